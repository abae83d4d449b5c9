import { describe, expect, it } from 'vitest';
import { fallThroughOrificeM, newFlows, stepPot } from '../../../simulators/pot/physics.js';
import { drainTimeS, roundHoleAreaM2 } from '../../../src/domain/formulas/orifice.js';
import { plainPot } from './support.js';

const FOREVER = Number.MAX_SAFE_INTEGER;

describe('water leaving through a hole', () => {
  it('takes the time that Torricelli gives, however the time is cut into steps', () => {
    // A 0.12 m2 vessel, head 0.20 m, hole 2 mm, Cd 0.61: empty after 3.513 h (t = A/(Cd a) sqrt(2 h/g)).
    const area = roundHoleAreaM2(2);
    const whole = drainTimeS(0.12, area, 0.2, 0);
    expect(whole / 3600).toBeCloseTo(3.513, 3);
    let head = 0.2;
    let seconds = 0;
    while (seconds + 300 < whole) {
      head -= fallThroughOrificeM(head, 0.12, area, 300);
      seconds += 300;
      expect(drainTimeS(0.12, area, 0.2, head)).toBeCloseTo(seconds, 3);
    }
    expect(head - fallThroughOrificeM(head, 0.12, area, 600)).toBeCloseTo(0, 9);
  });

  it('falls with the square of the time for a hole and exponentially for a seep, down to the crack', () => {
    for (const exponent of [0.5, 1]) {
      const { model, state } = plainPot({
        leaks: [{ fromStep: 0, toStep: FOREVER, crackMm: 50, litresPerDayAtInvert: 3, exponent }],
      });
      const flows = newFlows();
      const turnoverPerDay = 3 / (0.12 * 150);
      for (let step = 0; step < 20 * 96; step++) {
        stepPot(model, state, step, null, flows);
        const days = (step + 1) / 96;
        const share =
          exponent === 1 ? Math.exp(-turnoverPerDay * days) : Math.max(0, 1 - (turnoverPerDay * days) / 2) ** 2;
        expect(state.levelMm).toBeCloseTo(50 + 150 * share, 3);
      }
    }
  });

  it('loses at the overflow what the leak is said to lose', () => {
    const { model, state } = plainPot({
      leaks: [{ fromStep: 0, toStep: FOREVER, crackMm: 0, litresPerDayAtInvert: 2.4, exponent: 0.5 }],
    });
    const flows = newFlows();
    stepPot(model, state, 0, null, flows);
    expect(flows.leak * 96).toBeCloseTo(2.4, 2);
  });

  it('stops at the end of the fault', () => {
    const { model, state } = plainPot({
      leaks: [{ fromStep: 0, toStep: 4, crackMm: 0, litresPerDayAtInvert: 2.4, exponent: 0.5 }],
    });
    const flows = newFlows();
    for (let step = 0; step < 4; step++) stepPot(model, state, step, null, flows);
    const levelMm = state.levelMm;
    stepPot(model, state, 4, null, flows);
    expect(state.levelMm).toBe(levelMm);
  });
});

describe('the overflow port', () => {
  const overfilled = { pourLitres: 2, drainLitres: 0, topLitres: 0 };

  it('clears a surplus within a step when it is free', () => {
    const { model, state } = plainPot();
    const flows = newFlows();
    stepPot(model, state, 0, overfilled, flows);
    expect(state.levelMm).toBeCloseTo(200, 9);
    expect(flows.overflow).toBeCloseTo(2, 9);
  });

  it('holds the surplus when it is blocked, and lets it out over hours when it is partly blocked', () => {
    const flows = newFlows();
    const blocked = plainPot({ portFactors: [{ fromStep: 0, toStep: FOREVER, factor: 0 }] });
    stepPot(blocked.model, blocked.state, 0, overfilled, flows);
    expect(flows.overflow).toBe(0);
    expect(blocked.state.levelMm).toBeCloseTo(200 + 2 / 0.12, 6);

    const partly = plainPot({ portFactors: [{ fromStep: 0, toStep: FOREVER, factor: 0.002 }] });
    stepPot(partly.model, partly.state, 0, overfilled, flows);
    expect(partly.state.levelMm).toBeGreaterThan(205);
    for (let step = 1; step < 96; step++) stepPot(partly.model, partly.state, step, null, flows);
    expect(partly.state.levelMm).toBeCloseTo(200, 6);
  });
});

describe('the wick', () => {
  it('follows the plants with its lag, so that part of the day’s water is drawn at night', () => {
    const days = 6;
    const demand = new Float32Array(days * 24);
    for (let h = 0; h < demand.length; h++) demand[h] = h % 24 >= 8 && h % 24 < 20 ? 0.1 : 0;
    const { model, state } = plainPot({ demandLPerHour: demand, wickLagHours: 6, wickLiftLPerHour: 10 }, days);
    const flows = newFlows();
    let night = 0;
    let all = 0;
    for (let step = 0; step < days * 96; step++) {
      stepPot(model, state, step, null, flows);
      if (step < 96) continue;
      all += flows.wick;
      const hour = (step / 4) % 24;
      if (hour < 8 || hour >= 20) night += flows.wick;
    }
    expect(all).toBeCloseTo((days - 1) * 1.2, 1);
    expect(night / all).toBeGreaterThan(0.3);
    expect(night / all).toBeLessThan(0.45);
  });

  it('gives back to dry soil within hours what the soil lost, besides the day’s use', () => {
    const { model, state } = plainPot({ wickLagHours: 3, wickLiftLPerHour: 1 });
    state.soilLitres = 12;
    const flows = newFlows();
    let taken = 0;
    for (let step = 0; step < 96; step++) {
      stepPot(model, state, step, null, flows);
      taken += flows.wick;
    }
    expect(taken).toBeCloseTo(6, 1);
  });

  it('draws nothing from below its foot, where only roots reach', () => {
    const demand = new Float32Array(30 * 24).fill(0.05);
    const flows = newFlows();
    const dry = plainPot({ demandLPerHour: demand });
    dry.state.litres = dry.model.curve.litresAt(10);
    dry.state.levelMm = 10;
    for (let step = 0; step < 96; step++) stepPot(dry.model, dry.state, step, null, flows);
    expect(dry.state.levelMm).toBeCloseTo(10, 9);

    const rooted = plainPot({ demandLPerHour: demand, rootShare: 0.5 });
    rooted.state.litres = rooted.model.curve.litresAt(10);
    rooted.state.levelMm = 10;
    for (let step = 0; step < 30 * 96; step++) stepPot(rooted.model, rooted.state, step, null, flows);
    expect(rooted.state.levelMm).toBeCloseTo(5, 3);
  });

  it('lets the soil dry above standing water when it has failed', () => {
    const demand = new Float32Array(30 * 24).fill(0.05);
    const { model, state } = plainPot({
      demandLPerHour: demand,
      wickFactors: [{ fromStep: 0, toStep: FOREVER, factor: 0 }],
    });
    const flows = newFlows();
    for (let step = 0; step < 4 * 96; step++) stepPot(model, state, step, null, flows);
    expect(state.levelMm).toBe(200);
    expect(state.soilLitres).toBeCloseTo(18 - 4 * 1.2, 1);
  });
});

describe('rain', () => {
  it('fills the soil first and reaches the reservoir late', () => {
    const rain = new Float32Array(30 * 96);
    for (let step = 4; step < 8; step++) rain[step] = 8;
    const { model, state } = plainPot({ catchM2: 0.2, rainMmPerStep: rain, rainBypass: 0, wickLiftLPerHour: 0 });
    state.litres = model.curve.litresAt(100);
    state.levelMm = 100;
    state.soilLitres = 16;
    const flows = newFlows();
    const inflow: number[] = [];
    for (let step = 0; step < 96; step++) {
      stepPot(model, state, step, null, flows);
      inflow.push(flows.rainIn);
    }
    const total = inflow.reduce((sum, value) => sum + value, 0);
    // 32 mm less 1 mm on the leaves on 0.2 m2, less what the soil lacked to field capacity.
    expect(total).toBeCloseTo(31 * 0.2 - 3, 1);
    const duringRain = inflow.slice(0, 8).reduce((sum, value) => sum + value, 0);
    expect(duringRain / total).toBeLessThan(0.3);
  });

  it('does not reach a covered pot', () => {
    const rain = new Float32Array(30 * 96).fill(5);
    const { model, state } = plainPot({ catchM2: 0, rainMmPerStep: rain });
    const flows = newFlows();
    const soil = state.soilLitres;
    for (let step = 0; step < 96; step++) stepPot(model, state, step, null, flows);
    expect(state.soilLitres).toBe(soil);
  });
});
