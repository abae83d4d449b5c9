import { useEffect, useMemo, useRef, useState } from 'preact/hooks';
import type { Plan } from '../api/views.js';
import { type Board, makeBoard, type Showing } from '../state/plan-board.js';
import type { Voice } from '../state/voice.js';
import { sayShortDay, sayWhen, sayWork } from '../state/words.js';
import { useApp, useLive, useNowMs } from './app-context.js';
import { LoadState } from './fault.js';
import { SelectField } from './fields.js';
import { BringsAside, ChangeList } from './plan-brings.js';
import { type Aside, PlanDeskSlot, useMakePlanDesk, usePlanDesk } from './plan-context.js';
import { PlanGrid } from './plan-grid.js';
import { SickAside, UrgentAside, WhatIfAside } from './plan-questions.js';
import { RoundAside } from './plan-round-aside.js';
import { StopAside } from './plan-stop-aside.js';
import { Sign } from './sign.js';

const FEW_CHANGES = 6;
const SHOWINGS = ['draft', 'published'] as const;

/** The rounds of the coming days: the draft beside what people were told, and everything that can be done to it. */
export function PlanBoard() {
  const { voice, resources, cache, setHomeZone } = useApp();
  const query = resources.plan();
  const state = useLive(query);
  const plan = state.data;
  const desk = useMakePlanDesk(plan);
  const [showing, setShowing] = useState<Showing>('draft');
  const board = useMemo(() => (plan === null ? null : makeBoard(plan, showing)), [plan, showing]);
  const zone = plan?.timeZone ?? null;
  useEffect(() => {
    if (zone !== null) setHomeZone(zone);
  }, [zone, setHomeZone]);
  if (plan === null || desk === null || board === null) {
    return (
      <>
        <h1>{voice.say('board.title')}</h1>
        <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      </>
    );
  }
  return (
    <PlanDeskSlot.Provider value={desk}>
      <div class={desk.aside === null ? 'board' : 'board board--aside'}>
        <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
        <BoardHead plan={plan} showing={showing} onShowing={setShowing} />
        <div class="board-main">
          {desk.aside === null ? null : <AsidePanel aside={desk.aside} board={board} />}
          <div class="board-body">
            <PlanGrid board={board} showing={plan.draft === null ? 'published' : showing} />
            <p class="smallest soft no-print">{voice.say('board.drag_hint')}</p>
            <BoardNotes plan={plan} />
          </div>
        </div>
      </div>
    </PlanDeskSlot.Provider>
  );
}

function BoardHead({
  plan,
  showing,
  onShowing,
}: {
  readonly plan: Plan;
  readonly showing: Showing;
  readonly onShowing: (showing: Showing) => void;
}) {
  const { voice, client, cache, announce } = useApp();
  const desk = usePlanDesk();
  const nowMs = useNowMs();
  const { draft, changes, state } = plan;
  const here = voice.at(plan.timeZone);

  return (
    <header class="board-head">
      <h1>{voice.say('board.title')}</h1>
      <p class="lede say">
        {draft === null ? voice.say('board.none') : sayTotals(voice, draft)}{' '}
        {draft === null
          ? null
          : changes.length === 0
            ? voice.say('board.same')
            : voice.say('board.differs', { changes: changes.length, nervousFraction: plan.nervousnessFraction })}
      </p>
      <p class="small soft" role="status">
        {state.running === null ? null : `${voice.say('board.running')} `}
        {draft === null ? null : voice.say('board.made', { when: sayWhen(here, draft.madeMs, nowMs) })}
      </p>
      {state.trouble === null ? null : <Sign kind="now">{voice.say('board.trouble', { detail: state.trouble })}</Sign>}
      <div class="board-tools no-print">
        {!desk.mayPlan || draft === null || changes.length === 0 ? null : (
          <button
            type="button"
            class="press press--first"
            disabled={desk.busy}
            onClick={() =>
              desk.run(async () => {
                const { changed } = (await client.send('POST', '/plan/publish', { seq: draft.seq })) as unknown as {
                  readonly changed: number;
                };
                await Promise.all([cache.refresh('plan'), cache.refresh('today')]);
                announce(voice.say('board.did_publish', { changed }));
              })
            }
          >
            {voice.say('board.publish_n', { changes: changes.length })}
          </button>
        )}
        {desk.mayPlan && draft?.canUndo === true ? (
          <button type="button" class="press" disabled={desk.busy} onClick={desk.undo}>
            {voice.say('board.undo')}
          </button>
        ) : null}
        {desk.mayPlan ? (
          <>
            <button type="button" class="press" onClick={() => desk.open({ kind: 'urgent' })}>
              {voice.say('board.urgent')} …
            </button>
            <button type="button" class="press" onClick={() => desk.open({ kind: 'sick' })}>
              {voice.say('board.sick')} …
            </button>
          </>
        ) : null}
        <button type="button" class="press" onClick={() => desk.open({ kind: 'what_if' })}>
          {voice.say('board.what_if')} …
        </button>
        {desk.mayPlan ? (
          <button
            type="button"
            class="press press--plain"
            disabled={desk.busy || state.running !== null}
            onClick={() =>
              desk.run(async () => {
                await client.send('POST', '/plan/run', {});
                announce(voice.say('board.did_run'));
                await cache.refresh('plan');
              })
            }
          >
            {voice.say('board.run')}
          </button>
        ) : null}
        <button type="button" class="press press--plain" onClick={() => window.print()}>
          {voice.say('round.print')}
        </button>
        {draft === null ? null : (
          <fieldset class="board-show">
            <legend class="unseen">{voice.say('board.show')}</legend>
            {SHOWINGS.map((one) => (
              <label key={one} class="choice">
                <input type="radio" name="board-show" checked={showing === one} onChange={() => onShowing(one)} />
                <span>{voice.say(`board.${one}`)}</span>
              </label>
            ))}
          </fieldset>
        )}
      </div>
    </header>
  );
}

function sayTotals(voice: Voice, draft: NonNullable<Plan['draft']>): string {
  const { totals } = draft;
  return voice.say('board.lede', {
    days: draft.dayCount,
    rounds: totals.truckDays,
    stops: totals.stops,
    litres: totals.litres,
    km: Math.round(totals.km),
    work: sayWork(voice, totals.workMinutes + totals.driveMinutes),
  });
}

function titleOf(aside: Aside, voice: Voice, siteName: (id: string) => string, personName: (id: string) => string) {
  switch (aside.kind) {
    case 'stop':
      return siteName(aside.siteId);
    case 'round':
      return personName(aside.personId);
    case 'brings':
      return voice.say('board.brings');
    case 'sick':
      return voice.say('board.sick');
    case 'urgent':
      return voice.say('board.urgent');
    case 'what_if':
      return voice.say('board.what_if');
  }
}

/** Beside the board at the desk, over its lower part on a phone. The keyboard goes there and comes back. */
function AsidePanel({ aside, board }: { readonly aside: Aside; readonly board: Board }) {
  const { voice } = useApp();
  const desk = usePlanDesk();
  const title = useRef<HTMLHeadingElement>(null);
  const from = useRef<Element | null>(null);
  const what = JSON.stringify(aside.kind === 'brings' ? aside.edits : aside);
  useEffect(() => {
    if (from.current === null) from.current = document.activeElement;
    title.current?.focus();
  }, [what]);
  useEffect(
    () => () => {
      if (from.current instanceof HTMLElement && from.current.isConnected) from.current.focus();
    },
    [],
  );
  return (
    <aside
      class="board-aside"
      aria-labelledby="aside-title"
      onKeyDown={(event) => {
        if (event.key === 'Escape') desk.open(null);
      }}
    >
      <div class="board-aside-head">
        <h2 id="aside-title" ref={title} tabIndex={-1}>
          {titleOf(aside, voice, desk.siteName, desk.personName)}
        </h2>
        <button type="button" class="press press--plain" onClick={() => desk.open(null)}>
          {voice.say('board.close')}
        </button>
      </div>
      {aside.kind === 'stop' ? <StopAside key={what} {...aside} /> : null}
      {aside.kind === 'round' ? <RoundAside key={what} board={board} {...aside} /> : null}
      {aside.kind === 'brings' ? <BringsAside edits={aside.edits} answer={aside.answer} /> : null}
      {aside.kind === 'sick' ? <SickAside /> : null}
      {aside.kind === 'urgent' ? <UrgentAside siteId={null} /> : null}
      {aside.kind === 'what_if' ? <WhatIfAside /> : null}
    </aside>
  );
}

/** Below the board: the short list of differences, what cannot be kept, and what was taken for granted. */
function BoardNotes({ plan }: { readonly plan: Plan }) {
  const { voice } = useApp();
  const desk = usePlanDesk();
  const [all, setAll] = useState(false);
  const [site, setSite] = useState('');
  const { draft, changes } = plan;
  return (
    <div class="board-notes">
      {changes.length === 0 ? null : (
        <section aria-labelledby="changes-title">
          <h2 id="changes-title">{voice.say('board.changes')}</h2>
          <ChangeList changes={changes} most={all ? changes.length : FEW_CHANGES} />
          {changes.length <= FEW_CHANGES || all ? null : (
            <button type="button" class="press press--plain" onClick={() => setAll(true)}>
              {voice.say('board.more_changes', { changes: changes.length })}
            </button>
          )}
        </section>
      )}
      {draft === null ? null : <Risks draft={draft} />}
      {draft === null || draft.assumptions.length === 0 ? null : (
        <section aria-labelledby="assumed-title">
          <h2 id="assumed-title">{voice.say('board.assumed')}</h2>
          <ul class="effects small">
            {draft.assumptions.map((message) => (
              <li key={`${message.code} ${JSON.stringify(message.params)}`}>{voice.tell(message)}</li>
            ))}
          </ul>
        </section>
      )}
      <section class="no-print" aria-label={voice.say('board.why_not_today')}>
        <SelectField
          label={`${voice.say('board.why_not_today')}?`}
          value={site}
          options={[
            { value: '', words: '–' },
            ...plan.sites
              .toSorted((a, b) => a.name.localeCompare(b.name))
              .map((one) => ({ value: one.id, words: one.name })),
          ]}
          onValue={(value) => {
            setSite(value);
            if (value !== '') desk.open({ kind: 'stop', siteId: value, day: null, personId: null });
          }}
        />
      </section>
    </div>
  );
}

function Risks({ draft }: { readonly draft: NonNullable<Plan['draft']> }) {
  const { voice: home, resources } = useApp();
  const desk = usePlanDesk();
  const voice = home.at(desk.plan.timeZone);
  const pots = useLive(draft.risks.length === 0 ? null : resources.containers()).data;
  return (
    <section aria-labelledby="risks-title">
      <h2 id="risks-title">{voice.say('board.risks')}</h2>
      {draft.risks.length === 0 && draft.brokenWishes.length === 0 ? (
        <p class="small">
          <Sign kind="good">{voice.say('board.risks_none')}</Sign>
        </p>
      ) : null}
      <ul class="effects small">
        {draft.risks.map((risk) => {
          const words = {
            pot: pots?.find((one) => one.id === risk.containerId)?.name ?? risk.containerId,
            site: desk.siteName(risk.siteId),
            last: sayShortDay(voice, risk.lastSafeDay),
            riskFraction: risk.chanceDryFraction,
          };
          return (
            <li key={risk.containerId}>
              <Sign kind="soon">
                {risk.visitDay === null
                  ? voice.say('board.risk_never', words)
                  : voice.say('board.risk', { ...words, day: sayShortDay(voice, risk.visitDay) })}
              </Sign>{' '}
              <span class="soft">{voice.tell(risk.why)}</span>
            </li>
          );
        })}
        {draft.brokenWishes.map((wish) => (
          <li key={JSON.stringify(wish)}>
            <Sign kind="soon">
              {voice.say('board.broken')}:{' '}
              {'siteId' in wish ? desk.siteName(wish.siteId) : desk.personName(wish.personId)}
              {'day' in wish ? `, ${sayShortDay(voice, wish.day)}` : ''}
            </Sign>
          </li>
        ))}
      </ul>
    </section>
  );
}
