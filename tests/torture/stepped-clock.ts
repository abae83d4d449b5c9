import { readFileSync } from 'node:fs';

/*
 * Loaded before the program: its wall clock then differs from the machine's by what a file says, in milliseconds, so that
 * it can be stepped while the program runs. Monotonic clocks are left alone, as a step leaves them alone.
 */
const file = process.env.STEPPED_CLOCK_FILE;
if (file === undefined) throw new Error('STEPPED_CLOCK_FILE names the file that holds the offset');

const realNow = Date.now;
let offsetMs = 0;
const look = (): void => {
  offsetMs = Number(readFileSync(file, 'utf8'));
};
look();
setInterval(look, 50).unref();

const RealDate = Date;
globalThis.Date = new Proxy(RealDate, {
  construct: (target, args, newTarget) =>
    Reflect.construct(target, args.length === 0 ? [realNow() + offsetMs] : args, newTarget) as Date,
  get: (target, name, receiver) =>
    name === 'now' ? () => realNow() + offsetMs : (Reflect.get(target, name, receiver) as unknown),
});
