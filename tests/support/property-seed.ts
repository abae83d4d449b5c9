import fc from 'fast-check';

/** With `PROPERTY_SEED` every property meets the same examples again; without it, new ones at each run. */
const { PROPERTY_SEED } = process.env;
if (PROPERTY_SEED !== undefined) {
  const seed = Number(PROPERTY_SEED);
  if (!Number.isSafeInteger(seed)) throw new Error(`PROPERTY_SEED is “${PROPERTY_SEED}”; give a whole number.`);
  fc.configureGlobal({ seed });
}
