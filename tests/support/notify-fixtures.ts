import type { Address, OutboxEntry } from '../../src/domain/notify.js';
import type { RenderedEntry } from '../../src/domain/ports/channel.js';

const AT_MS = Date.UTC(2026, 7, 31, 5, 0);

export function outboxEntry(changes: Partial<OutboxEntry> = {}): OutboxEntry {
  return {
    id: 'alert-7.2.mail-1',
    addressId: 'mail-1',
    channel: 'email',
    topic: 'stop/S4',
    subject: { code: 'caution.mosquito', params: {} },
    body: [],
    withdrawal: false,
    urgent: false,
    createdMs: AT_MS,
    notBeforeMs: AT_MS,
    expiresMs: AT_MS + 86_400_000,
    attempts: 0,
    state: 'waiting',
    lastError: null,
    ...changes,
  };
}

export function rendered(address: Partial<Address>, entry: Partial<OutboxEntry> = {}): RenderedEntry {
  return {
    entry: outboxEntry(entry),
    address: {
      id: 'mail-1',
      personId: 'p1',
      channel: 'email',
      target: 'crew@localhost',
      secret: null,
      createdMs: AT_MS,
      endedMs: null,
      ...address,
    },
    subject: 'Harbour terrace: 2 pots, 41 L by Tuesday',
    lines: ['Olive by the door: 18 L, dry on Tuesday', 'Señal: señala la maceta – 23 L'],
    link: 'https://localhost/rounds/today',
  };
}
