import {
  type Board,
  boardContent,
  type Edited,
  editBoard,
  openBoard,
  type Searched,
  searchOn,
  type TravelOf,
} from '../../dispatch/board.js';
import type { LaidStop } from '../../dispatch/crew.js';
import type { DeskInput } from '../../dispatch/desk.js';
import type { PlanEdit } from '../../dispatch/edits.js';
import {
  type Offer,
  offersFor,
  type SiteStory,
  type Supposed,
  type Supposition,
  siteStory,
  whatIf,
} from '../../dispatch/questions.js';
import { estimateTravel, type GeoPoint, type TravelMatrix, type TravelSettings } from '../../dispatch/travel.js';
import type { SiteId } from '../../domain/ids.js';
import type { PlanContent, PlanWish } from '../../domain/plan.js';
import type { LoadedPlan } from './plan-input.js';
import { seededRng } from './seeded-rng.js';

/** How long a search goes on. */
export type Budget = { readonly iterations: number } | { readonly seconds: number };

interface About {
  readonly base: readonly LaidStop[];
  readonly wishes: readonly PlanWish[];
}

/** What the desk asks of the planner. `load` comes first; the others speak of what was loaded last. */
export type PlanQuestion =
  | { readonly kind: 'load'; readonly loaded: LoadedPlan }
  | ({ readonly kind: 'prepare' } & About)
  | ({ readonly kind: 'lay_out' } & About)
  | ({ readonly kind: 'search'; readonly budget: Budget; readonly seed: number; readonly heat: number } & About)
  | ({ readonly kind: 'edit'; readonly edits: readonly PlanEdit[] } & About)
  | ({ readonly kind: 'offers'; readonly siteId: SiteId } & About)
  | ({ readonly kind: 'story'; readonly siteId: SiteId; readonly iterations: number } & About)
  | ({ readonly kind: 'what_if'; readonly supposition: Supposition; readonly iterations: number } & About);

export interface PlanAnswers {
  readonly load: null;
  readonly prepare: null;
  readonly lay_out: PlanContent;
  readonly search: Searched;
  readonly edit: Edited;
  readonly offers: readonly Offer[];
  readonly story: SiteStory | null;
  readonly what_if: Supposed;
}

const WHAT_IF_SEED = 11;
/** The draft and what is published. */
const BOARDS_KEPT = 2;

/** Answers the desk's questions; keeps what was loaded, and the travel matrix as long as the sites stay. */
export class PlanAnswerer {
  #loaded: LoadedPlan | null = null;
  /** What was laid out last, latest first: questions about the draft and about what is published come in rows. */
  #laid: readonly { readonly key: string; readonly board: Board }[] = [];
  readonly #travel = new TravelMemory();

  /** @param onFirst told of the first whole plan of a search, before it is improved */
  answer<Kind extends PlanQuestion['kind']>(
    question: Extract<PlanQuestion, { readonly kind: Kind }>,
    onFirst: (content: PlanContent) => void,
  ): PlanAnswers[Kind] {
    // Each kind has the answer of its name; the compiler cannot follow that through the union.
    return this.#answer(question, onFirst) as PlanAnswers[Kind];
  }

  #answer(question: PlanQuestion, onFirst: (content: PlanContent) => void): PlanAnswers[PlanQuestion['kind']] {
    if (question.kind === 'load') {
      this.#loaded = question.loaded;
      this.#laid = [];
      return null;
    }
    if (this.#loaded === null) throw new Error('the planner was asked before it was given anything');
    const { desk, travel } = this.#loaded;
    const travelOf: TravelOf = (points) => this.#travel.matrix(points, travel);
    const { base, wishes } = question;
    const board = () => this.#board(desk, base, wishes, travelOf);
    switch (question.kind) {
      case 'prepare':
        board();
        return null;
      case 'lay_out':
        return boardContent(board());
      case 'search': {
        const laid = board();
        let told = false;
        return searchOn(laid, seededRng(question.seed), {
          ...bounded(question.budget),
          heat: question.heat,
          onBetter: (plan) => {
            if (told) return;
            told = true;
            onFirst(boardContent({ ...laid, plan }));
          },
        });
      }
      case 'edit':
        return editBoard(board(), base, question.edits, travelOf);
      case 'offers':
        return offersFor(board(), question.siteId);
      case 'story':
        return siteStory(board(), question.siteId, seededRng(WHAT_IF_SEED), question.iterations);
      case 'what_if':
        return whatIf(
          { ...desk, wishes },
          base,
          question.supposition,
          travelOf,
          () => seededRng(WHAT_IF_SEED),
          question.iterations,
        );
    }
  }

  #board(desk: DeskInput, base: readonly LaidStop[], wishes: readonly PlanWish[], travelOf: TravelOf): Board {
    const key = JSON.stringify([base, wishes]);
    const known = this.#laid.find((one) => one.key === key);
    if (known !== undefined) return known.board;
    const board = openBoard(desk, base, wishes, travelOf, this.#laid[0]?.board ?? null);
    this.#laid = [{ key, board }, ...this.#laid].slice(0, BOARDS_KEPT);
    return board;
  }
}

function bounded(budget: Budget): { iterations: number } | { progress: () => number } {
  if ('iterations' in budget) return { iterations: budget.iterations };
  const startedMs = performance.now();
  return { progress: () => (performance.now() - startedMs) / (budget.seconds * 1000) };
}

/** Keeps the legs between sites from one question to the next; only what is new is reckoned. */
export class TravelMemory {
  #points: readonly GeoPoint[] = [];
  #settings: TravelSettings | null = null;
  #matrix: TravelMatrix | null = null;

  matrix(points: readonly GeoPoint[], settings: TravelSettings): TravelMatrix {
    let same = 0;
    if (this.#settings?.loadedFactor === settings.loadedFactor) {
      while (same < points.length && same < this.#points.length && samePoint(points[same]!, this.#points[same]!))
        same++;
    }
    if (this.#matrix !== null && same === points.length && same === this.#points.length) return this.#matrix;
    this.#matrix = estimateTravel(
      points,
      settings,
      this.#matrix === null || same === 0 ? null : { matrix: this.#matrix, count: same },
    );
    this.#points = points;
    this.#settings = settings;
    return this.#matrix;
  }
}

function samePoint(a: GeoPoint, b: GeoPoint): boolean {
  return a.latitude === b.latitude && a.longitude === b.longitude;
}
