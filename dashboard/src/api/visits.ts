import type { VisitBody } from '../../../src/http/schemas/index.js';
import type { OutboxStorage, Outgoing, SendOutcome } from '../state/outbox.js';
import { type ApiClient, ApiRefusal, NoConnection } from './client.js';

/** A visit as it waits on the device: the body to send, and what the list shows of it meanwhile. */
export interface VisitRecord {
  readonly personId: string;
  readonly stopId: string;
  readonly siteName: string;
  readonly timeZone: string;
  readonly happenedMs: number;
  readonly litres: number;
  readonly body: VisitBody;
}

/** Sends one visit. What is not the visit's own fault waits; what the server refuses comes back with its words. */
export async function sendVisit(client: ApiClient, id: string, record: VisitRecord): Promise<SendOutcome> {
  try {
    await client.send('PUT', `/visits/${encodeURIComponent(id)}`, record.body);
    return { kind: 'sent' };
  } catch (fault) {
    if (fault instanceof NoConnection) return { kind: 'later' };
    if (!(fault instanceof ApiRefusal)) throw fault;
    const { status, detail, faults } = fault.problem;
    // Signed out, throttled or broken down: none of it speaks against the visit.
    if (status === 401 || status === 408 || status === 429 || status >= 500) return { kind: 'later' };
    return { kind: 'refused', detail: [detail, ...faults.map((one) => `${one.pointer} ${one.detail}`)].join(' ') };
  }
}

const DATABASE = 'brimline';
const VISITS = 'visits';
const KEPT = 'kept';

function request<T>(asked: IDBRequest<T>): Promise<T> {
  return new Promise((resolve, reject) => {
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error ?? new Error('the device’s storage failed'));
  });
}

function done(transaction: IDBTransaction): Promise<void> {
  return new Promise((resolve, reject) => {
    transaction.oncomplete = () => resolve();
    transaction.onabort = () => reject(transaction.error ?? new Error('the device’s storage gave up'));
  });
}

/** The device's own storage: unsent visits, and the views that have to open without a signal. */
export class DeviceStorage implements OutboxStorage<VisitRecord> {
  readonly #database: Promise<IDBDatabase>;

  constructor() {
    const opening = indexedDB.open(DATABASE, 1);
    opening.onupgradeneeded = () => {
      opening.result.createObjectStore(VISITS, { keyPath: 'id' });
      opening.result.createObjectStore(KEPT);
    };
    this.#database = request(opening);
  }

  async all(): Promise<readonly Outgoing<VisitRecord>[]> {
    const database = await this.#database;
    return request(database.transaction(VISITS).objectStore(VISITS).getAll() as IDBRequest<Outgoing<VisitRecord>[]>);
  }

  async put(item: Outgoing<VisitRecord>): Promise<void> {
    const transaction = (await this.#database).transaction(VISITS, 'readwrite', { durability: 'strict' });
    transaction.objectStore(VISITS).put(item);
    await done(transaction);
  }

  async remove(id: string): Promise<void> {
    const transaction = (await this.#database).transaction(VISITS, 'readwrite');
    transaction.objectStore(VISITS).delete(id);
    await done(transaction);
  }

  /** Keeps a view for a start without a signal. */
  async keep(key: string, value: unknown): Promise<void> {
    const transaction = (await this.#database).transaction(KEPT, 'readwrite');
    transaction.objectStore(KEPT).put(value, key);
    await done(transaction);
  }

  async kept(key: string): Promise<unknown> {
    const database = await this.#database;
    return request(database.transaction(KEPT).objectStore(KEPT).get(key));
  }

  /** What belongs to a person goes when that person signs out; unsent visits stay. */
  async forgetKept(): Promise<void> {
    const transaction = (await this.#database).transaction(KEPT, 'readwrite');
    transaction.objectStore(KEPT).clear();
    await done(transaction);
  }
}
