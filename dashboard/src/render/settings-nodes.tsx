import { useId, useState } from 'preact/hooks';
import { useApp, useBusy, useLive } from './app-context.js';
import { faultText } from './fault.js';
import { TextField } from './fields.js';

/** How often nodes report, and the way to ask one for something else. */
export function NodesSection() {
  const { voice, resources, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const [nodeId, setNodeId] = useState('');
  const [minutes, setMinutes] = useState('');
  const listId = useId();
  const nodes = useLive(resources.nodes()).data;
  if (nodes === null) return null;
  const groups = new Map<number | null, number>();
  for (const node of nodes) groups.set(node.promisedIntervalS, (groups.get(node.promisedIntervalS) ?? 0) + 1);

  function ask(): void {
    run(async () => {
      const node = nodes?.find((one) => one.id === nodeId.trim());
      if (node === undefined) {
        announce(voice.say('nodes.unknown', { node: nodeId }));
        return;
      }
      try {
        await client.send('PUT', `/nodes/${encodeURIComponent(node.id)}`, {
          gatewayId: node.gatewayId,
          promisedIntervalS: Math.round(Number(minutes) * 60),
        });
        announce(voice.say('nodes.did', { node: node.id, spanMinutes: Number(minutes) }));
        await cache.refresh('nodes');
      } catch (fault) {
        announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
      }
    });
  }

  return (
    <section class="settings-part" aria-labelledby="nodes-title">
      <h2 id="nodes-title">{voice.say('nodes.title')}</h2>
      <p class="small soft">{voice.say(nodes.length === 0 ? 'nodes.none' : 'nodes.intro')}</p>
      <ul>
        {[...groups]
          .toSorted(([, a], [, b]) => b - a)
          .map(([seconds, count]) => (
            <li key={seconds}>
              {seconds === null
                ? voice.say('nodes.group_unset', { nodes: count })
                : voice.say('nodes.group', { nodes: count, spanMinutes: seconds / 60 })}
            </li>
          ))}
      </ul>
      <form
        class="row"
        onSubmit={(event) => {
          event.preventDefault();
          ask();
        }}
      >
        <TextField label={voice.say('nodes.node')} value={nodeId} list={listId} required onValue={setNodeId} />
        <datalist id={listId}>
          {nodes.slice(0, 500).map((node) => (
            <option key={node.id} value={node.id} />
          ))}
        </datalist>
        <TextField
          label={voice.say('nodes.every')}
          type="number"
          min="1"
          max="10080"
          required
          value={minutes}
          onValue={setMinutes}
        />
        <button type="submit" class="press" disabled={busy}>
          {voice.say('nodes.save')}
        </button>
      </form>
    </section>
  );
}
