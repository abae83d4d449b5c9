import { describe, expect, test } from 'vitest';
import { WHOLE_FLEET } from '../../../src/domain/access.js';
import type { Write } from '../../../src/domain/change-set.js';
import type { Log } from '../../../src/domain/ports/log.js';
import { openTempStore, silentLog } from '../../support/temp-store.js';
import { changeSet, containerOf, DAY, findingOf, HOUR, idsOf, reading, registryOf, T0, worldOf } from './worlds.js';

const ids = idsOf('A');

describe('a commit', () => {
  test('that fails half-way leaves nothing behind, neither rows nor lines nor a moved cursor', async () => {
    const { store } = await openTempStore();
    const broken = changeSet(
      [
        ...worldOf('A'),
        {
          kind: 'task_transition',
          row: {
            taskId: 'no-such-task',
            atMs: T0,
            from: null,
            to: 'done',
            actor: 'test',
            reason: { code: 'task.inspect', params: {} },
          },
        },
      ],
      { cursor: { stage: 'analysis', expectedSeq: 0, nextSeq: 9 } },
    );
    await expect(store.commit(broken)).rejects.toMatchObject({ code: 'conflict' });
    expect(await store.registry.fleet()).toEqual({
      accounts: [],
      sites: [],
      containers: [],
      gateways: [],
      nodes: [],
      assignments: [],
      depots: [],
      trucks: [],
      people: [],
    });
    expect(await store.readings.ofNode(ids.node, 0, T0 + DAY)).toEqual([]);
    expect(await store.changes.lastSeq()).toBe(0);
    expect(await store.changes.cursor('analysis')).toBe(0);
    const result = await store.commit(changeSet(worldOf('A')));
    expect(result.readings.added).toBe(2);
  });

  test('moves the cursor of its stage, and is refused where another one moved it', async () => {
    const { store } = await openTempStore();
    const move = (expectedSeq: number, nextSeq: number) =>
      changeSet(registryOf('A'), { cursor: { stage: 'analysis', expectedSeq, nextSeq } });
    await store.commit(move(0, 4));
    expect(await store.changes.cursor('analysis')).toBe(4);
    const seq = await store.changes.lastSeq();
    await expect(store.commit(move(0, 5))).rejects.toMatchObject({
      code: 'cursor_moved',
      message: expect.stringContaining('stands at change 4'),
    });
    expect(await store.changes.cursor('analysis')).toBe(4);
    expect(await store.changes.cursor('alarms')).toBe(0);
    expect(await store.changes.lastSeq()).toBe(seq);
  });

  test('that names what is not registered says so and does not blame the program', async () => {
    const { store } = await openTempStore();
    await expect(store.commit(changeSet([{ kind: 'container', row: containerOf('A') }]))).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringContaining('not registered'),
    });
  });

  test('with a second login of the same spelling is refused', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet([...registryOf('A'), ...registryOf('B')]));
    const person = await store.people.person(idsOf('B').person);
    if (person === null) throw new Error('the person was not stored');
    const same: Write = { kind: 'person', row: { ...person, login: 'a-LOGIN' } };
    await expect(store.commit(changeSet([same]))).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringContaining('login'),
    });
  });

  test('that changes nothing writes no line', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A')));
    const seq = await store.changes.lastSeq();
    const again = await store.commit(changeSet(registryOf('A'), { atMs: T0 + HOUR }));
    expect(again.seq).toBe(seq);
  });

  test('cannot give a node to two containers at one time', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet([...registryOf('A'), ...registryOf('B')]));
    const second: Write = {
      kind: 'assignment',
      row: { id: 'second', nodeId: ids.node, containerId: idsOf('B').container, fromMs: T0, toMs: null, zeroMm: 0 },
    };
    await expect(store.commit(changeSet([second]))).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringMatching(/A-node .* both A-pot and B-pot at 2026-06-10T00:00:00.000Z/),
    });
    const first = {
      id: ids.assignment,
      nodeId: ids.node,
      containerId: ids.container,
      zeroMm: 5,
      fromMs: T0 - 30 * DAY,
      toMs: T0,
    };
    await store.commit(changeSet([second, { kind: 'assignment', row: first }]));
    expect(await store.registry.assignmentsOfNode(ids.node)).toHaveLength(2);
  });
});

describe('the change log', () => {
  test('has one line for each key of a commit, with who did it and where it belongs', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(worldOf('A'), { actor: { kind: 'person', id: 'olga' } }));
    const changes = await store.changes.after(0, 1000);
    expect(changes.map(({ kind, key }) => `${kind} ${key}`)).toEqual([
      'account A-account',
      'site A-site',
      'container A-pot',
      'gateway A-gateway',
      'node A-node',
      'node A-spare',
      'assignment A-assignment',
      'person A-person',
      'readings A-node',
      'derived A-pot',
      'pour_record A-pours',
      'status A-pot',
      'forecast A-pot',
      'finding A-finding',
      'alarm A-alarm',
      'alarm_transition A-alarm',
      'alarm_override dry:A-pot',
      'task A-task',
      'task_transition A-task',
      'round_stop A-stop',
      'visit A-visit',
      'alert A-alert',
    ]);
    expect(changes.map(({ seq }) => seq)).toEqual(changes.map((_change, index) => index + 1));
    for (const change of changes) {
      expect(change).toMatchObject({ atMs: T0, actor: { kind: 'person', id: 'olga' } });
      if (!['account', 'person'].includes(change.kind)) expect(change.siteId).toBe('A-site');
    }
    const readings = changes.find(({ kind }) => kind === 'readings');
    expect(readings).toMatchObject({ containerId: 'A-pot', fromMs: T0, toMs: T0 + HOUR });
    expect(changes.find(({ kind }) => kind === 'derived')).toMatchObject({
      containerId: 'A-pot',
      fromMs: T0 - 2 * HOUR,
    });
  });

  test('gives what came after a number, oldest first, so many at a time', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(worldOf('A')));
    expect((await store.changes.after(3, 2)).map(({ seq }) => seq)).toEqual([4, 5]);
    expect(await store.changes.after(await store.changes.lastSeq(), 10)).toEqual([]);
  });

  test('says for which time an assignment moved readings, to both pots where it went from one to the other', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet([...registryOf('A'), ...registryOf('B')]));
    const from = await store.changes.lastSeq();
    const base = { id: ids.assignment, nodeId: ids.node, containerId: ids.container, fromMs: T0 - 30 * DAY, zeroMm: 5 };
    await store.commit(changeSet([{ kind: 'assignment', row: { ...base, toMs: T0 } }]));
    await store.commit(changeSet([{ kind: 'assignment', row: { ...base, fromMs: T0 - 20 * DAY, toMs: T0 } }]));
    await store.commit(
      changeSet([{ kind: 'assignment', row: { ...base, fromMs: T0 - 20 * DAY, toMs: T0, containerId: 'B-pot' } }]),
    );
    await store.commit(changeSet([{ kind: 'assignment_removed', id: ids.assignment }]));
    await store.commit(changeSet([{ kind: 'assignment_removed', id: ids.assignment }]));
    const lines = (await store.changes.after(from, 100)).map(({ kind, containerId, fromMs, toMs }) => [
      kind,
      containerId,
      fromMs,
      toMs,
    ]);
    expect(lines).toEqual([
      ['assignment', 'A-pot', T0, null],
      ['assignment', 'A-pot', T0 - 30 * DAY, T0 - 20 * DAY],
      ['assignment', 'B-pot', T0 - 20 * DAY, T0],
      ['assignment', 'A-pot', T0 - 20 * DAY, T0],
      ['assignment_removed', 'B-pot', T0 - 20 * DAY, T0],
    ]);
  });

  test('shows as audit what people and commands did, the latest first', async () => {
    const { store } = await openTempStore();
    await store.commit(changeSet(registryOf('A'), { actor: { kind: 'command', id: 'import' } }));
    await store.commit(
      changeSet([{ kind: 'finding', row: findingOf('A') }], { actor: { kind: 'stage', id: 'analysis' } }),
    );
    await store.commit(
      changeSet([{ kind: 'finding', row: findingOf('A', { size: 2 }) }], { actor: { kind: 'person', id: 'olga' } }),
    );
    const first = await store.changes.audit({ limit: 3, cursor: null });
    expect(first.rows.map(({ kind, actor }) => [kind, actor.id])).toEqual([
      ['finding', 'olga'],
      ['person', 'import'],
      ['assignment', 'import'],
    ]);
    const rest = await store.changes.audit({ limit: 100, cursor: first.nextCursor });
    expect(rest.rows).toHaveLength(6);
    expect(rest.nextCursor).toBeNull();
  });

  test('never bears a session token', async () => {
    const { store } = await openTempStore();
    const session = { tokenHash: 'c0ffee', personId: ids.person, createdMs: T0, expiresMs: T0 + DAY };
    await store.commit(changeSet([...registryOf('A'), { kind: 'session', row: session }]));
    expect(await store.people.session('c0ffee')).toMatchObject({ session, person: { id: ids.person } });
    await store.commit(changeSet([{ kind: 'session_ended', tokenHash: 'c0ffee' }]));
    expect(await store.people.session('c0ffee')).toBeNull();
    const changes = await store.changes.after(0, 100);
    expect(changes.filter(({ kind }) => kind.startsWith('session')).map(({ key }) => key)).toEqual([
      ids.person,
      ids.person,
    ]);
    expect(JSON.stringify(changes)).not.toContain('c0ffee');
  });
});

describe('a listener to commits', () => {
  test('is called after the commit, when what was written can be read', async () => {
    const { store } = await openTempStore();
    const seen: Promise<unknown>[] = [];
    const stop = store.onCommit((result) => {
      seen.push(store.registry.accounts(WHOLE_FLEET).then((accounts) => [result.seq, accounts.length]));
    });
    const { seq } = await store.commit(changeSet(registryOf('A')));
    expect(await Promise.all(seen)).toEqual([[seq, 1]]);
    stop();
    await store.commit(changeSet(registryOf('B')));
    expect(seen).toHaveLength(1);
  });

  test('is not called for a commit that was refused', async () => {
    const { store } = await openTempStore();
    let calls = 0;
    store.onCommit(() => {
      calls += 1;
    });
    await expect(store.commit(changeSet([{ kind: 'container', row: containerOf('A') }]))).rejects.toThrow();
    expect(calls).toBe(0);
  });

  test('that fails is logged, and neither the commit nor the other listeners suffer', async () => {
    const faults: object[] = [];
    const log: Log = { ...silentLog, error: (fields) => faults.push(fields) };
    const { store } = await openTempStore(log);
    let calls = 0;
    store.onCommit(() => {
      throw new Error('listener broke');
    });
    store.onCommit(() => {
      calls += 1;
    });
    const result = await store.commit(
      changeSet([...registryOf('A'), { kind: 'readings', rows: [reading(ids.node, T0)] }]),
    );
    expect(result.readings.added).toBe(1);
    expect(calls).toBe(1);
    expect(faults).toMatchObject([{ err: { message: 'listener broke' } }]);
  });
});
