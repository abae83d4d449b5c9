import { useId, useState } from 'preact/hooks';
import type { Commissioning, ContainerDetail } from '../api/views.js';
import { instantOfLocal, localText } from '../state/local-instant.js';
import { lengthUnit, mmOfTyped } from '../state/typed-units.js';
import type { Voice } from '../state/voice.js';
import { useApp, useBusy, useLive } from './app-context.js';
import { faultText } from './fault.js';
import { CheckField, TextField } from './fields.js';
import { Sign } from './sign.js';

/** Which node is on the pot; a new one, one in its place, or one taken off, also days after it was done. */
export function CommissionNode({
  detail,
  progress,
  voice,
}: {
  readonly detail: ContainerDetail;
  readonly progress: Commissioning;
  readonly voice: Voice;
}) {
  const { client, resources, me, nowMs, cache, announce } = useApp();
  const { units } = me.person;
  const zone = detail.site.timeZone;
  const nodes = useLive(resources.nodes()).data ?? [];
  const [nodeId, setNodeId] = useState('');
  const [from, setFrom] = useState(() => localText(nowMs(), zone));
  const [zero, setZero] = useState('0');
  const [endOthers, setEndOthers] = useState(true);
  const [secret, setSecret] = useState<string | null>(null);
  const [fault, setFault] = useState<string | null>(null);
  const [busy, run] = useBusy();
  const listId = useId();
  const known = nodes.some((node) => node.id === nodeId.trim());
  const fromMs = instantOfLocal(from, zone);
  const zeroMm = mmOfTyped(zero, units);
  const { assignment } = progress;

  const send = (done: string, act: () => Promise<void>): void =>
    run(async () => {
      setFault(null);
      try {
        await act();
        announce(done);
        cache.ageAll();
      } catch (error) {
        setFault(faultText(voice, error));
      }
    });

  async function put(): Promise<void> {
    if (fromMs === null || zeroMm === null) return;
    const id = nodeId.trim();
    if (!known) {
      await client.send('POST', '/nodes', { id, gatewayId: null, promisedIntervalS: null });
      const made = (await client.send('POST', '/credentials', { principalId: id, kind: 'node' })) as {
        readonly secret?: string;
      };
      setSecret(made.secret ?? null);
    }
    await client.send('POST', '/assignments', {
      nodeId: id,
      containerId: detail.container.id,
      from: new Date(fromMs).toISOString(),
      zeroMm,
      endOthers,
    });
  }

  return (
    <div class="node-step">
      {assignment === null ? null : (
        <p>
          <strong>{assignment.nodeId}</strong>{' '}
          <span class="small soft">
            {voice.say('pot.node_from', { fromMs: assignment.fromMs })} ·{' '}
            {progress.lastReadingMs === null
              ? voice.say('pot.never_read')
              : voice.say('pot.read', { atMs: progress.lastReadingMs })}
          </span>
        </p>
      )}
      <form
        class="sheet"
        onSubmit={(event) => {
          event.preventDefault();
          send(voice.say('commission.node_put', { node: nodeId }), put);
        }}
      >
        <p class="small soft">{voice.say('commission.node_text')}</p>
        <div class="sheet-fields">
          <TextField label={voice.say('commission.node')} value={nodeId} list={listId} required onValue={setNodeId} />
          <datalist id={listId}>
            {nodes.map((node) => (
              <option key={node.id} value={node.id} />
            ))}
          </datalist>
          <InstantField label={voice.say('commission.node_from')} value={from} onValue={setFrom} />
          <TextField
            label={`${voice.say('commission.zero')} (${lengthUnit(units)})`}
            value={zero}
            required
            onValue={setZero}
          />
        </div>
        <CheckField label={voice.say('commission.end_others')} checked={endOthers} onChecked={setEndOthers} />
        {nodeId.trim() === '' || known ? null : (
          <p class="small">
            <Sign kind="plain">{voice.say('commission.node_new', { node: nodeId })}</Sign>
          </p>
        )}
        <div role="alert">{fault === null ? null : <Sign kind="now">{fault}</Sign>}</div>
        {secret === null ? null : (
          <div class="shown-once" role="status">
            <p>{voice.say('commission.node_secret')}</p>
            <p class="shown-once-text">{secret}</p>
          </div>
        )}
        <button type="submit" class="press press--first" disabled={busy || fromMs === null || zeroMm === null}>
          {voice.say(assignment === null ? 'commission.node_set' : 'commission.node_replace')}
        </button>
      </form>
      {assignment === null ? null : (
        <button
          type="button"
          class="press"
          disabled={busy || fromMs === null}
          onClick={() =>
            send(voice.say('commission.node_off', { node: assignment.nodeId }), async () => {
              await client.send('POST', `/assignments/${encodeURIComponent(assignment.id)}/end`, {
                to: new Date(fromMs ?? nowMs()).toISOString(),
              });
            })
          }
        >
          {voice.say('commission.node_take', { node: assignment.nodeId, fromMs })}
        </button>
      )}
    </div>
  );
}

function InstantField({
  label,
  value,
  onValue,
}: {
  readonly label: string;
  readonly value: string;
  readonly onValue: (value: string) => void;
}) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <input
        id={id}
        type="datetime-local"
        value={value}
        required
        onInput={(event) => onValue(event.currentTarget.value)}
      />
    </div>
  );
}
