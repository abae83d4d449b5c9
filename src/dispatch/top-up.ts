import type { Message } from '../domain/message.js';
import { chanceDryWithin, daysToRisk, type PotWater } from './risk.js';

/** What to do with one pot while the technician is there. */
export interface FillDecision {
  readonly fill: boolean;
  readonly message: Message;
}

export interface FillQuestion {
  readonly pot: PotWater;
  /** Days from now until this visit and until the next planned one; null for none within the plan. */
  readonly visitInDays: number;
  readonly nextVisitInDays: number | null;
  /** Accepted chance (0-1) of a dry pot. */
  readonly dryRisk: number;
  readonly minutesPerPot: number;
  readonly pumpLitresPerMinute: number;
  /** Worth of a day of cover and cost of a minute, in one currency. */
  readonly valuePerCoverDay: number;
  readonly costPerMinute: number;
}

/**
 * Fill, top up or leave a pot at a visit: filled where it would not keep the risk until the next visit; topped up where the
 * cover gained is worth more than the minutes (can-order rule of joint replenishment, Balintfy 1964).
 */
export function decideFill(question: FillQuestion): FillDecision {
  const { pot, visitInDays, nextVisitInDays, dryRisk } = question;
  const until = nextVisitInDays ?? Number.POSITIVE_INFINITY;
  const lasts = daysToRisk(pot.dryTime, dryRisk);
  const usedByThen = Math.min(pot.litresPerDay * visitInDays, Math.max(0, pot.drawableLitres - pot.roomLitres));
  const litres = pot.roomLitres + usedByThen;
  const extraMinutes = question.minutesPerPot + litres / question.pumpLitresPerMinute;
  if (lasts < until) {
    const riskFraction = chanceDryWithin(pot.dryTime, Math.min(until, 1e6));
    return { fill: true, message: { code: 'round.fill.must', params: { riskFraction } } };
  }
  const gainedDays = pot.litresPerDay > 0 ? litres / pot.litresPerDay : 0;
  const fill = gainedDays * question.valuePerCoverDay > extraMinutes * question.costPerMinute;
  return {
    fill,
    message: { code: fill ? 'round.fill.top_up' : 'round.fill.skip', params: { gainedDays, extraMinutes } },
  };
}
