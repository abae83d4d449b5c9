import { litresToUsGallons, usGallonsToLitres } from '../../../src/domain/units.js';
import type { VisitBody } from '../../../src/http/schemas/index.js';

/** What a technician is about to record of one stop: everything filled in as planned, each piece open to change. */
export interface TaskDraft {
  readonly taskId: string;
  readonly kind: string;
  readonly containerId: string;
  readonly potName: string;
  /** Litres as typed, in the person's unit; null where no water goes in. */
  readonly typed: string | null;
  readonly exception: VisitException | null;
  readonly note: string;
}

export const VISIT_EXCEPTIONS = ['no_access', 'not_needed', 'no_water', 'damaged', 'other'] as const;
export type VisitException = (typeof VISIT_EXCEPTIONS)[number];

type WorkDone = NonNullable<VisitBody['actions']>[number]['work'];

const WORK_OF_TASK: Readonly<Record<string, WorkDone>> = {
  refill: 'refill',
  rewet_from_above: 'wet_from_above',
  clear_overflow: 'clear_overflow',
  repack_wick: 'repack_wick',
  drain: 'drain',
  replant: 'replant',
};

export type VolumeUnit = 'L' | 'US_gal';

interface PlannedTask {
  readonly id: string;
  readonly kind: string;
  readonly containerId: string;
  readonly litres: number | null;
  readonly pot: { readonly name: string };
}

/** The most that one pot takes in one visit; above it a figure is a slip of the finger. */
export const MOST_LITRES = 5_000;

export function draftOf(tasks: readonly PlannedTask[], unit: VolumeUnit): readonly TaskDraft[] {
  return tasks.map((task) => ({
    taskId: task.id,
    kind: task.kind,
    containerId: task.containerId,
    potName: task.pot.name,
    typed: task.litres === null && task.kind !== 'refill' ? null : typedVolume(task.litres ?? 0, unit),
    exception: null,
    note: '',
  }));
}

/** As the screens round volumes: a decimal below ten, none above. */
export function typedVolume(litres: number, unit: VolumeUnit): string {
  const shown = unit === 'L' ? litres : litresToUsGallons(litres);
  return String(Math.abs(shown) < 10 ? Math.round(shown * 10) / 10 : Math.round(shown));
}

/** Litres of what was typed, with a comma or a point; null where it is no sensible volume. */
export function litresOfTyped(typed: string, unit: VolumeUnit): number | null {
  const text = typed.trim().replace(',', '.');
  if (!/^\d+(\.\d*)?$/.test(text)) return null;
  const shown = Number(text);
  const litres = unit === 'L' ? shown : usGallonsToLitres(shown);
  return litres <= MOST_LITRES ? litres : null;
}

/** One step up or down, from what is typed; stays at or above nothing. */
export function stepTyped(typed: string, unit: VolumeUnit, direction: 1 | -1): string {
  const litres = litresOfTyped(typed, unit) ?? 0;
  const shown = unit === 'L' ? litres : litresToUsGallons(litres);
  const step = unit === 'US_gal' ? 0.5 : 1;
  const next = Math.max(0, shown + direction * step);
  return String(Math.round(next * 10) / 10);
}

export function changeDraft(
  drafts: readonly TaskDraft[],
  taskId: string,
  change: Partial<Pick<TaskDraft, 'typed' | 'exception' | 'note'>>,
): readonly TaskDraft[] {
  return drafts.map((draft) => (draft.taskId === taskId ? { ...draft, ...change } : draft));
}

/** Litres of all that went in; null where something typed is no volume. */
export function sumLitres(drafts: readonly TaskDraft[], unit: VolumeUnit): number | null {
  let sum = 0;
  for (const draft of drafts) {
    if (draft.typed === null || draft.exception !== null) continue;
    const litres = litresOfTyped(draft.typed, unit);
    if (litres === null) return null;
    sum += litres;
  }
  return sum;
}

/** The visit as the server takes it. @throws RangeError where something typed is no volume; ask {@link sumLitres} first */
export function visitBody(
  drafts: readonly TaskDraft[],
  unit: VolumeUnit,
  visit: {
    readonly siteId: string;
    readonly technicianId: string;
    readonly startedAt: string;
    readonly happenedAt: string;
    readonly note: string;
  },
): VisitBody {
  return {
    siteId: visit.siteId,
    technicianId: visit.technicianId,
    startedAt: visit.startedAt,
    happenedAt: visit.happenedAt,
    note: visit.note.trim() === '' ? null : visit.note.trim(),
    actions: drafts.map((draft) => {
      const pours = draft.typed !== null && draft.exception === null;
      const litres = pours ? litresOfTyped(draft.typed ?? '', unit) : null;
      if (pours && litres === null) throw new RangeError(`${draft.typed} is no volume`);
      return {
        containerId: draft.containerId,
        taskId: draft.taskId,
        work: WORK_OF_TASK[draft.kind] ?? 'other',
        litres,
        exception: draft.exception,
        note: draft.note.trim() === '' ? null : draft.note.trim(),
      };
    }),
  };
}
