import { addDays, LocalDays } from '../domain/local-day.js';
import type { Message } from '../domain/message.js';
import type { DraftRound, PlanContent } from '../domain/plan.js';
import type { BuiltProblem } from './build-problem.js';
import { tourKey } from './build-problem.js';
import type { DeskInput } from './desk.js';

/** What a change of the draft brings with it. `broken`: something that ought to hold does not; `note`: worth knowing. */
export interface PlanEffect {
  readonly severity: 'broken' | 'note';
  readonly siteId: string | null;
  readonly personId: string | null;
  readonly day: string | null;
  readonly message: Message;
}

/** What is wrong or worth knowing in `after` and was not so in `before`. */
export function newEffects(
  built: BuiltProblem,
  desk: DeskInput,
  before: PlanContent,
  after: PlanContent,
): readonly PlanEffect[] {
  const known = new Set(effectsOf(built, desk, before).map(keyOf));
  return effectsOf(built, desk, after).filter((one) => !known.has(keyOf(one)));
}

const keyOf = (effect: PlanEffect) =>
  `${effect.message.code} ${effect.siteId} ${effect.personId} ${effect.day} ${effect.message.params.pot ?? ''}`;

/** All that a draft breaks: windows, closed days, tanks, shifts, skills, people kept away, risks, wishes. */
export function effectsOf(built: BuiltProblem, desk: DeskInput, content: PlanContent): readonly PlanEffect[] {
  const { input } = built;
  const sites = new Map(input.sites.map((one, c) => [one.site.id, { one, c }]));
  const days = new LocalDays(input.timeZone);
  const siteName = (id: string) => sites.get(id)?.one.site.name ?? id;
  const personName = (id: string) => desk.personNames[id] ?? id;
  const effects: PlanEffect[] = [];
  const say = (severity: PlanEffect['severity'], about: Partial<PlanEffect>, message: Message) =>
    effects.push({ severity, siteId: null, personId: null, day: null, ...about, message });
  for (const round of content.rounds) {
    const { personId, day } = round;
    const about = { personId, day };
    const atMs = (minute: number) => days.startMs(day) + minute * 60_000;
    const person = personName(personId);
    if (round.exceedsShift) {
      say('broken', about, { code: 'plan.effect.too_long', params: { person, finishMs: atMs(round.finishMinute) } });
    } else if (round.overtimeMinutes > 1) {
      say('note', about, {
        code: 'plan.effect.overtime',
        params: { person, overtimeMinutes: round.overtimeMinutes, finishMs: atMs(round.finishMinute) },
      });
    }
    const dry = round.stops.find((stop) => stop.tankLitres < -1e-6);
    if (dry !== undefined) {
      say(
        'broken',
        { ...about, siteId: dry.siteId },
        {
          code: 'plan.effect.tank_empty',
          params: { person, site: siteName(dry.siteId), shortLitres: -dry.tankLitres },
        },
      );
    }
    for (const effect of stopEffects(built, round, sites)) {
      const site = siteName(effect.siteId);
      say(
        'broken',
        { ...about, siteId: effect.siteId },
        {
          code: effect.code,
          params: { site, person, startMs: atMs(effect.startMinute), needs: effect.needs },
        },
      );
    }
  }
  for (const risk of content.risks) {
    const name = sites.get(risk.siteId)?.one.pots.find((pot) => pot.container.id === risk.containerId)?.container.name;
    say(
      'broken',
      { siteId: risk.siteId, day: null },
      {
        code: risk.visitDay === null ? 'plan.effect.risk_unvisited' : 'plan.effect.risk',
        params: {
          pot: name ?? risk.containerId,
          site: siteName(risk.siteId),
          riskFraction: risk.chanceDryFraction,
          visitMs: risk.visitDay === null ? null : days.startMs(risk.visitDay),
          lastMs: days.startMs(risk.lastSafeDay < input.firstDay ? addDays(input.firstDay, -1) : risk.lastSafeDay),
        },
      },
    );
  }
  for (const wish of content.brokenWishes) {
    const siteId = wish.kind === 'pin' ? null : wish.siteId;
    const personId = 'personId' in wish ? wish.personId : null;
    say(
      'broken',
      { siteId, personId, day: wish.kind === 'forbid' ? null : wish.day },
      {
        code: `plan.effect.wish_${wish.kind}`,
        params: {
          site: siteId === null ? '' : siteName(siteId),
          person: personId === null ? '' : personName(personId),
          dayMs: wish.kind === 'forbid' ? null : days.startMs(wish.day),
        },
      },
    );
  }
  return effects;
}

function stopEffects(
  { problem, tourOf }: BuiltProblem,
  round: DraftRound,
  sites: ReadonlyMap<string, { readonly one: BuiltProblem['input']['sites'][number]; readonly c: number }>,
) {
  const tour = tourOf.get(tourKey(round.personId, round.day));
  if (tour === undefined) return [];
  const spec = problem.tours[tour]!;
  return round.stops.flatMap((stop) => {
    const customer = problem.customers[sites.get(stop.siteId)?.c ?? -1];
    if (customer === undefined || stop.reason === 'frozen') return [];
    const found: { code: Message['code']; siteId: string; startMinute: number; needs: string }[] = [];
    const missing = customer.skills.filter((skill) => !spec.skills.includes(skill));
    const base = { siteId: stop.siteId, startMinute: stop.startMinute, needs: missing.join(', ') };
    if (missing.length > 0) found.push({ ...base, code: 'plan.effect.not_suited' });
    if (customer.forbiddenTours.includes(tour)) found.push({ ...base, code: 'plan.effect.kept_away' });
    if (customer.windows[spec.day]!.length === 0) found.push({ ...base, code: 'plan.effect.closed' });
    else if (stop.missesWindow) found.push({ ...base, code: 'plan.effect.too_late' });
    return found;
  });
}
