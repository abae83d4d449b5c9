import type { EpochMs } from '../../domain/ids.js';
import type { Finding, Forecast, PotEvent, Quantiles } from '../../domain/pot.js';
import type { PotReplayResult } from './replay-pot.js';

export interface ReplayFiles {
  readonly forecasts: string;
  readonly events: string;
  readonly findings: string;
}

const FORECAST_COLUMNS =
  'container,origin,level_mm,litres,rate_l_per_day,dry_p10,dry_p50,dry_p90,stress_p10,stress_p50,stress_p90';
const EVENT_COLUMNS = 'container,kind,start,end,litres,confidence';
const FINDING_COLUMNS = 'container,kind,opened,closed,size,unit,height_mm,confidence';

/** The three files; rows by container and then by time, so that the same input gives the same bytes. */
export function replayFiles(
  pots: readonly { readonly containerId: string; readonly result: PotReplayResult }[],
): ReplayFiles {
  const sorted = [...pots].sort((a, b) => (a.containerId < b.containerId ? -1 : a.containerId > b.containerId ? 1 : 0));
  const forecasts = [FORECAST_COLUMNS];
  const events = [EVENT_COLUMNS];
  const findings = [FINDING_COLUMNS];
  for (const { result } of sorted) {
    for (const forecast of result.forecasts) forecasts.push(forecastRow(forecast));
    for (const event of result.events) events.push(eventRow(event));
    for (const finding of result.findings) findings.push(findingRow(finding));
  }
  const text = (lines: readonly string[]): string => `${lines.join('\n')}\n`;
  return { forecasts: text(forecasts), events: text(events), findings: text(findings) };
}

function forecastRow(forecast: Forecast): string {
  return [
    forecast.containerId,
    time(forecast.originMs),
    number(forecast.levelMm, 1),
    number(forecast.litres, 3),
    number(forecast.rateLitresPerDay, 4),
    ...quantileCells(forecast.dry),
    ...quantileCells(forecast.stress),
  ].join(',');
}

function quantileCells(quantiles: Quantiles | null): readonly string[] {
  return [quantiles?.p10Ms, quantiles?.p50Ms, quantiles?.p90Ms].map((ms) => time(ms ?? null));
}

function eventRow(event: PotEvent): string {
  const cells = [event.containerId, event.kind, time(event.startMs), time(event.endMs)];
  return [...cells, number(event.litres, 3), number(event.confidence, 3)].join(',');
}

function findingRow(finding: Finding): string {
  return [
    finding.containerId,
    finding.kind,
    time(finding.openedMs),
    time(finding.closedMs),
    number(finding.size, 4),
    finding.unit ?? '',
    number(finding.heightMm, 1),
    number(finding.confidence, 3),
  ].join(',');
}

/** ISO 8601 to the second; empty for what is not known. */
function time(ms: EpochMs | null): string {
  return ms === null ? '' : `${new Date(ms).toISOString().slice(0, 19)}Z`;
}

function number(value: number | null, digits: number): string {
  if (value === null) return '';
  const rounded = Number(value.toFixed(digits));
  return Object.is(rounded, -0) ? '0' : String(rounded);
}
