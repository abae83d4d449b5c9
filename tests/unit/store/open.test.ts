import { expect, test } from 'vitest';
import { WHOLE_FLEET } from '../../../src/domain/access.js';
import { openTempStore } from '../../support/temp-store.js';

test('a new store holds nothing and takes an account', async () => {
  const { store } = await openTempStore();
  expect(await store.registry.accounts(WHOLE_FLEET)).toEqual([]);
  const result = await store.commit({
    atMs: 1_000,
    actor: { kind: 'command', id: 'test' },
    writes: [{ kind: 'account', row: { id: 'A1', name: 'One', dryRisk: 0.05 } }],
    cursor: null,
  });
  expect(result.seq).toBe(1);
  expect(await store.registry.accounts(WHOLE_FLEET)).toEqual([{ id: 'A1', name: 'One', dryRisk: 0.05 }]);
});
