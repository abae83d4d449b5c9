import type { PotContext } from '../domain/analysis.js';
import type { Message } from '../domain/message.js';
import type { Forecast } from '../domain/pot.js';
import { type PotState, strappingOf } from './state.js';

/** The sentence a dispatcher reads, then what lies behind it. */
export function explainForecast(ctx: PotContext, state: PotState, forecast: Forecast): readonly Message[] {
  return [headline(forecast), ...forecast.basis, ...background(ctx, state, forecast)];
}

function headline(forecast: Forecast): Message {
  const { litres, dry, rateLitresPerDay, levelMm } = forecast;
  if (litres === null || levelMm === null) return { code: 'analysis.headline_no_level', params: {} };
  if (dry === null || rateLitresPerDay === null) {
    return { code: 'analysis.headline_learning', params: { litres, levelMm } };
  }
  if (dry.p50Ms === null) {
    return { code: 'analysis.headline_beyond', params: { litres, rateLitresPerDay, p10Ms: dry.p10Ms } };
  }
  if (dry.p50Ms <= forecast.originMs) return { code: 'analysis.headline_dry', params: { levelMm } };
  return {
    code: 'analysis.headline',
    params: { litres, rateLitresPerDay, dryMs: dry.p50Ms, earliestMs: dry.p10Ms, latestMs: dry.p90Ms },
  };
}

function background(ctx: PotContext, state: PotState, forecast: Forecast): readonly Message[] {
  const strapping = strappingOf(ctx);
  const messages: Message[] = [
    {
      code: 'analysis.vessel',
      params: { capacityLitres: strapping.capacityLitres, deadLitres: strapping.deadLitres },
    },
    { code: 'analysis.noise', params: { noiseMm: state.cleaning.noiseMm } },
  ];
  const last = state.events.records.filter((record) => record.event.kind === 'refill').at(-1);
  if (last !== undefined) {
    messages.push({
      code: last.event.atLeast ? 'analysis.last_refill_at_least' : 'analysis.last_refill',
      params: { refillLitres: last.event.litres, refillMs: last.event.endMs },
    });
  }
  if (forecast.knowledge === 'silent') messages.push({ code: 'analysis.silent', params: {} });
  if (ctx.calibration !== null) {
    messages.push({ code: 'analysis.calibrated', params: { frozenMs: ctx.calibration.frozenMs } });
  }
  return messages;
}
