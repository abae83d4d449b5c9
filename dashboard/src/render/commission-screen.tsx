import type { CommissioningItem } from '../api/views.js';
import { formatRoute } from '../state/route.js';
import { useApp, useBusy, useLive } from './app-context.js';
import { NewPot } from './commission-new.js';
import { CommissionPot } from './commission-pot.js';
import { faultText, LoadState } from './fault.js';
import { Sign } from './sign.js';

/** Setting pots up, best on a phone beside the pot: what is not finished, a new pot, or one pot step by step. */
export function CommissionScreen({ containerId }: { readonly containerId: string | null }) {
  if (containerId === null) return <Unfinished />;
  return containerId === 'new' ? <NewPot /> : <CommissionPot containerId={containerId} />;
}

function Unfinished() {
  const { voice, resources, cache } = useApp();
  const query = resources.commissioningList();
  const state = useLive(query);
  const items = state.data ?? [];
  const pairs = swappedPairs(items);
  const open = items.filter((item) => item.lacks.length > 0);
  return (
    <div class="commission">
      <header class="commission-head">
        <h1>{voice.say('commission.title')}</h1>
        <a class="press press--first" href={formatRoute({ screen: 'commission', containerId: 'new' })}>
          {voice.say('commission.add')}
        </a>
      </header>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {pairs.map((pair) => (
        <SwappedPair key={pair[0].containerId} pair={pair} listKey={query.key} />
      ))}
      {state.data === null ? null : open.length === 0 ? (
        <p class="empty-line say">{voice.say('commission.none')}</p>
      ) : (
        <section aria-labelledby="unfinished-title">
          <h2 id="unfinished-title">{voice.say('commission.unfinished')}</h2>
          <ul class="record-lines">
            {open.map((item) => (
              <li key={item.containerId}>
                <p>
                  <a class="big-link" href={formatRoute({ screen: 'commission', containerId: item.containerId })}>
                    {item.name}
                  </a>
                  <span class="small soft">
                    {' '}
                    {item.siteName}
                    {item.place === null ? '' : ` · ${item.place}`}
                  </span>
                </p>
                <p class="signs">
                  {item.lacks.map((lack) => (
                    <Sign key={lack} kind={lack === 'wick' ? 'unknown' : 'soon'}>
                      {voice.say(`commission.lacks.${lack}`)}
                    </Sign>
                  ))}
                </p>
              </li>
            ))}
          </ul>
        </section>
      )}
    </div>
  );
}

type Pair = readonly [CommissioningItem, CommissioningItem];

/** The finding names the other pot of the same site; each pair once. */
function swappedPairs(items: readonly CommissioningItem[]): readonly Pair[] {
  const swapped = items.filter((item) => item.swapped !== null);
  const pairs: Pair[] = [];
  for (const item of swapped) {
    const names = item.swapped?.evidence.flatMap((message) => Object.values(message.params)) ?? [];
    const other = swapped.find(
      (one) => one.containerId > item.containerId && one.siteId === item.siteId && names.includes(one.name),
    );
    if (other !== undefined) pairs.push([item, other]);
  }
  return pairs;
}

function SwappedPair({ pair, listKey }: { readonly pair: Pair; readonly listKey: string }) {
  const { voice, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const [one, other] = pair;
  const finding = one.swapped;
  if (finding === null) return null;
  const sinceMs = finding.onsetMs ?? finding.openedMs;

  function swap(): void {
    run(async () => {
      try {
        await client.send('POST', '/assignments/swap', {
          containerIds: [one.containerId, other.containerId],
          at: new Date(sinceMs).toISOString(),
        });
        announce(voice.say('commission.swapped', { one: one.name, other: other.name }));
        await cache.refresh(listKey);
      } catch (fault) {
        announce(faultText(voice, fault));
      }
    });
  }

  return (
    <section class="notice" aria-label={voice.say('commission.swap_title', { one: one.name, other: other.name })}>
      <h2>
        <Sign kind="soon">{voice.say('commission.swap_title', { one: one.name, other: other.name })}</Sign>
      </h2>
      <ul class="evidence">
        {finding.evidence.map((message) => (
          <li key={message.code}>{voice.tell(message)}</li>
        ))}
      </ul>
      {finding.toConfirm === null ? null : (
        <p class="small">
          <strong>{voice.say('pot.finding_confirm')}: </strong>
          {voice.tell(finding.toConfirm)}{' '}
          {voice.say('commission.swap_labels', {
            one: one.name,
            oneNode: one.nodeId,
            other: other.name,
            otherNode: other.nodeId,
          })}
        </p>
      )}
      <button type="button" class="press" disabled={busy} onClick={swap}>
        {voice.say('commission.swap', { sinceMs })}
      </button>
    </section>
  );
}
