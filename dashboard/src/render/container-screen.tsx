import { useEffect, useMemo, useState } from 'preact/hooks';
import type { ContainerDetail } from '../api/views.js';
import type { Voice } from '../state/voice.js';
import { addFigures } from '../state/water-balance.js';
import { sayDry } from '../state/words.js';
import { addDays, dayOf, startOfDayMs } from '../state/zone.js';
import { useApp, useLive, useNowMs } from './app-context.js';
import { BalanceBars } from './balance-bars.js';
import { ContainerChart } from './container-chart.js';
import { Events, Findings, Nodes, OpenTasks, StrappingTable, Visits } from './container-records.js';
import { LoadState } from './fault.js';
import { SectionDrawing } from './section-drawing.js';
import { Sign } from './sign.js';

const YEAR_MS = 365 * 86_400_000;
const LEDGER_DAYS = 30;
/** Wet substrate weighs 0.75 to 1.0 kg per litre (common practice); the upper end is the safe one for lifting. */
const WET_SOIL_KG_PER_LITRE = 1;

/** Everything that is known of one pot. */
export function ContainerScreen({ containerId }: { readonly containerId: string }) {
  const { voice: home, resources, cache, me, nowMs, setHomeZone } = useApp();
  const query = resources.container(containerId);
  const state = useLive(query);
  const detail = state.data;
  const zone = detail?.site.timeZone ?? null;
  const voice = useMemo(() => (zone === null ? home : home.at(zone)), [home, zone]);
  const [openedMs] = useState(() => Math.ceil(nowMs() / 3_600_000) * 3_600_000);
  const may = (action: string): boolean => (me.permissions[action] ?? 'none') !== 'none';
  const tasks = useLive(may('tasks.read') ? resources.tasksOf(containerId) : null).data ?? [];
  const visitsState = useLive(
    may('visits.read') ? resources.visitsOf(containerId, openedMs - YEAR_MS, openedMs + YEAR_MS) : null,
  );
  const visits = visitsState.data ?? [];
  useEffect(() => {
    if (zone !== null) setHomeZone(zone);
  }, [zone, setHomeZone]);

  if (detail === null) return <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />;
  const { container, site, status } = detail;
  const leak = detail.findings.find((finding) => finding.kind === 'leak' && finding.closedMs === null) ?? null;
  return (
    <div class="pot">
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      <header class="pot-head">
        <h1>{container.name}</h1>
        <p class="pot-where">
          {voice.say('pot.at', { site: site.name, account: detail.accountName })}
          {container.place === null ? null : <> · {container.place}</>}
        </p>
        <Headline detail={detail} voice={voice} />
      </header>
      <section class="pot-section" aria-labelledby="section-title">
        <h2 id="section-title">{voice.say('pot.section_title')}</h2>
        <SectionDrawing
          input={{
            strapping: container.reservoir.strapping,
            overflowMm: container.reservoir.overflowMm,
            wickFootMm: container.reservoir.wickFootMm,
            levelMm: status?.levelMm ?? null,
            leakMm: leak?.heightMm ?? null,
          }}
          voice={voice}
        />
        <About detail={detail} voice={voice} />
      </section>
      <ContainerChart detail={detail} visits={visits} voice={voice} />
      <div class="pot-columns">
        <section aria-labelledby="why-title">
          <h2 id="why-title">{voice.say('pot.why_title')}</h2>
          <ul class="evidence">
            {(detail.explanation.length > 0 ? detail.explanation : (status?.forecast.basis ?? [])).map((message) => (
              <li key={message.code}>{voice.tell(message)}</li>
            ))}
          </ul>
        </section>
        <Findings findings={detail.findings} voice={voice} />
        <WaterOfPot containerId={containerId} voice={voice} timeZone={site.timeZone} />
        {may('tasks.read') ? <OpenTasks tasks={tasks} voice={voice} /> : null}
        {may('visits.read') ? <Visits visits={visits} containerId={containerId} voice={voice} /> : null}
        <div class="pot-folds">
          <Events detail={detail} voice={voice} mayCorrect={may('events.correct')} />
          <Nodes detail={detail} voice={voice} />
          <StrappingTable detail={detail} voice={voice} />
        </div>
      </div>
    </div>
  );
}

/** How the pot stands, in one breath. */
function Headline({ detail, voice }: { readonly detail: ContainerDetail; readonly voice: Voice }) {
  const nowMs = useNowMs();
  const { status } = detail;
  if (status === null) return <p class="lede say">{voice.say('pot.not_analysed')}</p>;
  const { forecast } = status;
  return (
    <>
      <p class="lede say">
        {status.litres === null
          ? voice.say('today.left_unknown')
          : voice.say('pot.water_now', {
              litres: status.litres,
              fillFraction: status.capacityLitres > 0 ? status.litres / status.capacityLitres : null,
            })}
        {forecast.rateLitresPerDay === null
          ? null
          : `, ${voice.say('today.draws', { rateLitresPerDay: forecast.rateLitresPerDay })}`}
        {': '}
        {sayDry(voice, forecast.dry, nowMs)}.
      </p>
      <p class="pot-now small">
        {forecast.knowledge === 'known' ? null : (
          <Sign kind="unknown">{voice.say(`knowledge.${forecast.knowledge}`)}</Sign>
        )}
        <span class="soft">
          {status.lastReadingMs === null
            ? voice.say('pot.never_read')
            : voice.say('pot.read', { atMs: status.lastReadingMs })}
        </span>
        <span class="soft">
          {voice.say('pot.conditions', {
            moistureFraction: status.moistureFraction,
            temperatureC: status.temperatureC,
            batteryV: status.batteryV,
          })}
        </span>
      </p>
    </>
  );
}

function About({ detail, voice }: { readonly detail: ContainerDetail; readonly voice: Voice }) {
  const { container, status } = detail;
  const wetKg =
    container.potKg === null || container.soil === null || status === null
      ? null
      : container.potKg + container.soil.litres * WET_SOIL_KG_PER_LITRE + status.capacityLitres;
  return (
    <ul class="about small">
      {container.plants.length === 0 ? null : (
        <li>{voice.say('pot.plants', { plants: container.plants.map((plant) => plant.name).join(', ') })}</li>
      )}
      <li>{voice.say(container.covered ? 'pot.covered' : 'pot.open')}</li>
      <li>{voice.say('pot.about_installed', { day: container.installedOn })}</li>
      {wetKg === null ? null : <li>{voice.say('pot.about_wet', { wetKg })}</li>}
    </ul>
  );
}

function WaterOfPot({
  containerId,
  voice,
  timeZone,
}: {
  readonly containerId: string;
  readonly voice: Voice;
  readonly timeZone: string;
}) {
  const { resources, cache } = useApp();
  const nowMs = useNowMs(600_000);
  const toDay = dayOf(nowMs, timeZone);
  const fromDay = addDays(toDay, -LEDGER_DAYS);
  const query = resources.ledger(containerId, fromDay, toDay);
  const state = useLive(query);
  const days = state.data ?? [];
  const first = days[0];
  const last = days[days.length - 1];
  return (
    <section aria-labelledby="water-title">
      <h2 id="water-title">{voice.say('pot.water_title')}</h2>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {first === undefined || last === undefined ? (
        state.data === null ? null : (
          <p class="soft">{voice.say('pot.water_none')}</p>
        )
      ) : (
        <>
          <p class="small soft">
            {voice.say('pot.water_span', {
              fromMs: startOfDayMs(first.day, timeZone),
              toMs: startOfDayMs(last.day, timeZone),
            })}{' '}
            {voice.say('water.uncertain', {
              sdLitres: Math.sqrt(days.reduce((sum, day) => sum + day.sdLitres ** 2, 0)),
            })}
          </p>
          <BalanceBars
            figures={{ ...addFigures(days), openingLitres: first.openingLitres, closingLitres: last.closingLitres }}
            voice={voice}
            heading="h3"
          />
        </>
      )}
    </section>
  );
}
