import { OwnerClients } from './owner-clients.js';
import { OwnerEdits } from './owner-edits.js';
import { OwnerPeople } from './owner-people.js';
import { OwnerTokens } from './owner-tokens.js';

/** What an owner looks after: who gets in, which programs, what was changed, and what is kept about clients. */
export function OwnerPart() {
  return (
    <>
      <OwnerPeople />
      <OwnerTokens />
      <OwnerEdits />
      <OwnerClients />
    </>
  );
}
