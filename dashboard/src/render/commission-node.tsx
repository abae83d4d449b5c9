import { useId, useState } from 'preact/hooks';
import type { Commissioning, ContainerDetail } from '../api/views.js';
import { instantOfLocal, localText } from '../state/local-instant.js';
import { lengthUnit, mmOfTyped } from '../state/typed-units.js';
import type { Voice } from '../state/voice.js';
import { useApp, useBusy, useLive } from './app-context.js';
import { faultText } from './fault.js';
import { CheckField, SelectField, TextField } from './fields.js';
import { Sign } from './sign.js';

/** Stands in the list of gateways for one that is not there yet; no id begins so. */
const NEW_GATEWAY = '+';

interface ShownOnce {
  readonly id: string;
  readonly secret: string;
}

/** Which node is on the pot, and through which gateway it speaks; a new one, one in its place, or one taken off, also days after it was done. */
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
  const { siteId } = detail.container;
  const nodes = useLive(resources.nodes()).data ?? [];
  const gateways = useLive(resources.gateways()).data ?? [];
  const here = gateways.filter((one) => one.siteId === siteId);
  const [nodeId, setNodeId] = useState('');
  const [from, setFrom] = useState(() => localText(nowMs(), zone));
  const [zero, setZero] = useState('0');
  const [endOthers, setEndOthers] = useState(true);
  const [gateway, setGateway] = useState<string | null>(null);
  const [gatewayId, setGatewayId] = useState('');
  const [secrets, setSecrets] = useState<readonly ShownOnce[]>([]);
  const [fault, setFault] = useState<string | null>(null);
  const [busy, run] = useBusy();
  const listId = useId();
  const known = nodes.find((node) => node.id === nodeId.trim());
  // As it was known; a new node mostly speaks through the gateway that hangs there already.
  const usual = known === undefined ? (here.length === 1 ? here[0]!.id : '') : (known.gatewayId ?? '');
  const through = gateway ?? usual;
  const gatewayOf = (id: string | null | undefined): string | null =>
    gateways.find((one) => one.id === id)?.name ?? id ?? null;
  const fromMs = instantOfLocal(from, zone);
  const zeroMm = mmOfTyped(zero, units);
  const { assignment } = progress;
  const standing = gatewayOf(nodes.find((node) => node.id === assignment?.nodeId)?.gatewayId);

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

  async function credential(principalId: string, kind: 'node' | 'gateway'): Promise<void> {
    const made = (await client.send('POST', '/credentials', { principalId, kind })) as { readonly secret?: string };
    const { secret } = made;
    if (secret !== undefined) setSecrets((shown) => [...shown, { id: principalId, secret }]);
  }

  /** The gateway that was chosen; one that is new is added first. */
  async function chosenGateway(): Promise<string | null> {
    if (through !== NEW_GATEWAY) return through === '' ? null : through;
    const id = gatewayId.trim();
    await client.send('POST', '/gateways', { id, siteId, name: id });
    await credential(id, 'gateway');
    setGateway(id);
    return id;
  }

  async function put(): Promise<void> {
    if (fromMs === null || zeroMm === null) return;
    const id = nodeId.trim();
    setSecrets([]);
    const by = await chosenGateway();
    if (known === undefined) {
      await client.send('POST', '/nodes', { id, gatewayId: by, promisedIntervalS: null });
      await credential(id, 'node');
    } else if (known.gatewayId !== by) {
      const { promisedIntervalS } = known;
      await client.send('PUT', `/nodes/${encodeURIComponent(id)}`, { gatewayId: by, promisedIntervalS });
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
            {standing === null ? null : <> · {voice.say('commission.through', { gateway: standing })}</>}
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
          <TextField
            label={voice.say('commission.node')}
            value={nodeId}
            list={listId}
            required
            onValue={(value) => {
              setNodeId(value);
              setGateway(null);
            }}
          />
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
        <div class="sheet-fields">
          <SelectField
            label={voice.say('commission.gateway')}
            value={through}
            options={[
              { value: '', words: voice.say('commission.gateway_none') },
              ...gateways
                .filter((one) => one.siteId === siteId || one.id === through)
                .map((one) => ({ value: one.id, words: one.name })),
              { value: NEW_GATEWAY, words: voice.say('commission.gateway_new') },
            ]}
            onValue={setGateway}
          />
          {through === NEW_GATEWAY ? (
            <TextField
              label={voice.say('commission.gateway_number')}
              value={gatewayId}
              required
              onValue={setGatewayId}
            />
          ) : null}
        </div>
        <CheckField label={voice.say('commission.end_others')} checked={endOthers} onChecked={setEndOthers} />
        {nodeId.trim() === '' || known !== undefined ? null : (
          <p class="small">
            <Sign kind="plain">{voice.say('commission.node_new', { node: nodeId })}</Sign>
          </p>
        )}
        <div role="alert">{fault === null ? null : <Sign kind="now">{fault}</Sign>}</div>
        {secrets.map(({ id, secret }) => (
          <div key={id} class="shown-once" role="status">
            <p>{voice.say('commission.secret_of', { id })}</p>
            <p class="shown-once-text">{secret}</p>
          </div>
        ))}
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
