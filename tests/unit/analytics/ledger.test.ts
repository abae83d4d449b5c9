import { describe, expect, it } from 'vitest';
import { closeDay, type OpenLedgerDay } from '../../../src/analytics/ledger.js';
import { strappingOf } from '../../../src/analytics/state.js';
import { potContext } from '../../support/pot-series.js';

const ctx = potContext();
const DAY: OpenLedgerDay = {
  day: '2026-06-01',
  startMs: 0,
  openingLitres: 20,
  openingSd: 0.1,
  closing: null,
  expectedUseLitres: 2,
  expectedUseSd: 0.5,
  soilMayTakeLitres: 0,
  leakLitres: 0,
  coveredHours: 24,
};
const CLOSING = { litres: 12, sd: 0.1, atMs: 86_400_000 };

describe('the account of a day', () => {
  it('leaves what the plants cannot have drawn unexplained', () => {
    const day = closeDay('C1', DAY, CLOSING, [], strappingOf(ctx));
    expect(day).toMatchObject({ uptakeLitres: 3.5, unexplainedLitres: 4.5 });
  });

  it('takes it for drawn into the soil where that had dried out before', () => {
    const day = closeDay('C1', { ...DAY, soilMayTakeLitres: 9 }, CLOSING, [], strappingOf(ctx));
    expect(day).toMatchObject({ uptakeLitres: 8, unexplainedLitres: 0 });
  });
});
