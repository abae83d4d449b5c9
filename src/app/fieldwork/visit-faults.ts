import { WHOLE_FLEET } from '../../domain/access.js';
import type { InputFault } from '../../domain/errors.js';
import { ID_PATTERN } from '../../domain/ids.js';
import { DAY_MS } from '../../domain/local-day.js';
import type { VisitAction } from '../../domain/work.js';
import type { App } from '../context.js';
import type { VisitInput } from './visits.js';

/** A phone's clock may run ahead of ours. */
const AHEAD_MS = 10 * 60_000;
const LONGEST_VISIT_MS = DAY_MS;
const MOST_ACTIONS = 500;
/** No reservoir of a pot is larger. */
const MOST_LITRES = 50_000;
const MOST_NOTE_CHARACTERS = 2000;

/** Everything that is wrong with a visit, so that it can be mended at once. */
export async function visitFaults(app: App, input: VisitInput): Promise<readonly InputFault[]> {
  const faults: InputFault[] = [];
  const fault = (pointer: string, detail: string): void => {
    faults.push({ pointer, detail });
  };
  if (!ID_PATTERN.test(input.id)) fault('/id', 'expected 1 to 64 of A-Z a-z 0-9 . _ -');
  if ((await app.store.registry.site(WHOLE_FLEET, input.siteId)) === null) {
    fault('/siteId', `there is no site ${input.siteId}`);
  }
  const person = await app.store.people.person(input.technicianId);
  if (person === null) fault('/technicianId', `there is no person ${input.technicianId}`);
  else if (person.role === 'client') fault('/technicianId', `${person.name} is a client, and makes no visits`);
  timeFaults(app, input, fault);
  if ((input.note?.length ?? 0) > MOST_NOTE_CHARACTERS) {
    fault('/note', `expected at most ${MOST_NOTE_CHARACTERS} characters`);
  }
  if (input.actions.length > MOST_ACTIONS) fault('/actions', `expected at most ${MOST_ACTIONS}`);
  for (const [index, action] of input.actions.slice(0, MOST_ACTIONS).entries()) {
    await actionFaults(app, input, action, `/actions/${index}`, fault);
  }
  return faults;
}

type Fault = (pointer: string, detail: string) => void;

function timeFaults(app: App, input: VisitInput, fault: Fault): void {
  const { startedMs, happenedMs } = input;
  if (!Number.isFinite(startedMs)) fault('/startedMs', 'expected an instant');
  if (!Number.isFinite(happenedMs)) fault('/happenedMs', 'expected an instant');
  if (happenedMs > app.clock.nowMs() + AHEAD_MS) {
    fault('/happenedMs', 'lies in the future by the server’s clock; check the phone’s clock');
  }
  if (startedMs > happenedMs) fault('/startedMs', 'lies after the time at which the work was done');
  if (happenedMs - startedMs > LONGEST_VISIT_MS)
    fault('/startedMs', 'lies more than a day before the end of the visit');
}

async function actionFaults(
  app: App,
  input: VisitInput,
  action: VisitAction,
  pointer: string,
  fault: Fault,
): Promise<void> {
  const container = await app.store.registry.container(WHOLE_FLEET, action.containerId);
  if (container === null) fault(`${pointer}/containerId`, `there is no container ${action.containerId}`);
  else if (container.siteId !== input.siteId) {
    fault(`${pointer}/containerId`, `${container.name} stands at site ${container.siteId}, not ${input.siteId}`);
  }
  const { litres } = action;
  if (litres !== null && !(litres >= 0 && litres <= MOST_LITRES)) {
    fault(`${pointer}/litres`, `expected 0 to ${MOST_LITRES} litres, found ${litres}`);
  }
  if ((action.note?.length ?? 0) > MOST_NOTE_CHARACTERS) {
    fault(`${pointer}/note`, `expected at most ${MOST_NOTE_CHARACTERS} characters`);
  }
  if (action.taskId === null) return;
  const task = await app.store.work.task(WHOLE_FLEET, action.taskId);
  if (task === null) fault(`${pointer}/taskId`, `there is no task ${action.taskId}`);
  else if (task.containerId !== action.containerId) {
    fault(`${pointer}/taskId`, `is a task at container ${task.containerId}`);
  }
}
