import { describe, expect, it } from 'vitest';
import { Outbox, type OutboxStorage, type Outgoing, type SendOutcome } from '../../../dashboard/src/state/outbox.js';

/** A device whose storage outlives the page. */
class Device implements OutboxStorage<string> {
  readonly rows = new Map<string, Outgoing<string>>();
  full = false;

  async all(): Promise<readonly Outgoing<string>[]> {
    return [...this.rows.values()];
  }

  async put(item: Outgoing<string>): Promise<void> {
    if (this.full) throw new Error('full');
    this.rows.set(item.id, item);
  }

  async remove(id: string): Promise<void> {
    this.rows.delete(id);
  }
}

describe('the queue of what was recorded without a signal', () => {
  it('sends oldest first, and keeps all that follows once the signal goes', async () => {
    const device = new Device();
    const sent: string[] = [];
    let signal = 2;
    const outbox = new Outbox<string>(device, async (id): Promise<SendOutcome> => {
      if (signal === 0) return { kind: 'later' };
      signal -= 1;
      sent.push(id);
      return { kind: 'sent' };
    });
    for (const [i, id] of ['a', 'b', 'c'].entries()) await outbox.add(id, id, i);
    await outbox.flush();
    expect(sent).toEqual(['a', 'b']);
    expect([...device.rows.keys()]).toEqual(['c']);
    signal = 1;
    await outbox.flush();
    expect(sent).toEqual(['a', 'b', 'c']);
    expect(outbox.items).toEqual([]);
  });

  it('finds after a restart what an earlier page left, in the order in which it was recorded', async () => {
    const device = new Device();
    const never = async (): Promise<SendOutcome> => ({ kind: 'later' });
    const before = new Outbox<string>(device, never);
    await before.add('second', 'x', 20);
    await before.add('first', 'x', 10);
    const after = new Outbox<string>(device, never);
    await after.open();
    expect(after.items.map((item) => item.id)).toEqual(['first', 'second']);
  });

  it('keeps what the server refuses with its words, goes on with the rest, and lets a person decide', async () => {
    const device = new Device();
    const outbox = new Outbox<string>(
      device,
      async (id): Promise<SendOutcome> =>
        id === 'bad' ? { kind: 'refused', detail: 'the pot is gone' } : { kind: 'sent' },
    );
    await outbox.add('bad', 'x', 1);
    await outbox.add('good', 'x', 2);
    await outbox.flush();
    expect(outbox.items).toMatchObject([{ id: 'bad', refusal: 'the pot is gone' }]);
    await outbox.flush();
    expect(outbox.items).toHaveLength(1);
    await outbox.discard('bad');
    expect(device.rows.size).toBe(0);
  });

  it('does not say that something is kept where the device refuses to keep it', async () => {
    const device = new Device();
    device.full = true;
    const outbox = new Outbox<string>(device, async (): Promise<SendOutcome> => ({ kind: 'sent' }));
    await expect(outbox.add('a', 'x', 1)).rejects.toThrow('full');
    expect(outbox.items).toEqual([]);
  });

  it('sends once where two things ask for sending at the same time', async () => {
    const sent: string[] = [];
    const outbox = new Outbox<string>(new Device(), async (id): Promise<SendOutcome> => {
      sent.push(id);
      await new Promise((resolve) => setImmediate(resolve));
      return { kind: 'sent' };
    });
    await outbox.add('a', 'x', 1);
    await Promise.all([outbox.flush(), outbox.flush()]);
    expect(sent).toEqual(['a']);
  });
});
