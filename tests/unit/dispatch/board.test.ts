import { expect, it } from 'vitest';
import { openBoard, searchOn } from '../../../src/dispatch/board.js';
import { estimateTravel, TRAVEL_SETTINGS } from '../../../src/dispatch/travel.js';
import { planInput, siteDryIn } from '../../support/dispatch-crew.js';
import { seededRng } from '../../support/pot-series.js';

it('plans no rounds where there is nobody to send, and names the pots that are left', () => {
  const plan = planInput([siteDryIn('S1', 1.2), siteDryIn('S2', 30)], { crew: [] });
  const desk = { plan, held: [], wishes: [], assumptions: [], personNames: {} };
  const board = openBoard(desk, [], [], (points) => estimateTravel(points, TRAVEL_SETTINGS));
  const { content, better } = searchOn(board, seededRng(1), { iterations: 50 });
  expect(better).toBe(false);
  expect(content.rounds).toEqual([]);
  expect(content.risks.map(({ siteId }) => siteId)).toEqual(['S1']);
});
