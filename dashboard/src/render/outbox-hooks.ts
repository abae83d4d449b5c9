import { useEffect, useState } from 'preact/hooks';
import type { VisitRecord } from '../api/visits.js';
import type { Outgoing } from '../state/outbox.js';
import { useApp } from './app-context.js';

/** What this person recorded on this device and the server has not yet taken. */
export function useOutbox(): readonly Outgoing<VisitRecord>[] {
  const { outbox, me } = useApp();
  const [items, setItems] = useState(outbox.items);
  useEffect(() => {
    setItems(outbox.items);
    return outbox.onChange(() => setItems(outbox.items));
  }, [outbox]);
  return items.filter((item) => item.body.personId === me.person.id);
}
