import type { Principal } from '../../domain/access.js';
import type { Firm } from '../../domain/commissioning.js';
import { DomainError } from '../../domain/errors.js';
import { type App, allowed } from '../context.js';
import { METRIC_UNITS } from './people.js';

/** What holds until somebody set the firm up: no name, no tariff. */
const UNNAMED: Firm = { name: '', currency: 'EUR', waterPricePerM3: null, language: 'en', units: METRIC_UNITS };

/** The firm as everybody who is signed in may know it. */
export async function firm(app: App): Promise<Firm> {
  return (await app.store.commissioning.firm()) ?? UNNAMED;
}

/** @throws DomainError `invalid_input` for a currency that the world does not know */
export async function saveFirm(app: App, who: Principal, row: Firm): Promise<Firm> {
  allowed(who, 'firm.write');
  checkCurrency(row.currency);
  await app.store.commit({
    atMs: app.clock.nowMs(),
    actor: { kind: 'person', id: who.personId },
    writes: [{ kind: 'firm', row }],
    cursor: null,
  });
  return row;
}

/** @throws DomainError `invalid_input` */
export function checkCurrency(currency: string): void {
  if (Intl.supportedValuesOf('currency').includes(currency)) return;
  const detail = `“${currency}” is no currency; ISO 4217 has three letters for each, such as EUR or USD`;
  throw new DomainError('invalid_input', `currency: ${detail}.`, { faults: [{ pointer: '/currency', detail }] });
}
