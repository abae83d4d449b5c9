import type { ComponentChildren } from 'preact';

export type SignKind = 'now' | 'soon' | 'good' | 'unknown' | 'plain';

/** One shape for each meaning, so that the sign reads without its colour. */
const SHAPES: Readonly<Record<SignKind, { readonly path: string; readonly filled: boolean }>> = {
  // A drop upside down would be decoration: a triangle says "now", a lozenge "soon", as on the road.
  now: { path: 'M6 1 L11.5 11 H0.5 Z', filled: true },
  soon: { path: 'M6 0.5 L11.5 6 L6 11.5 L0.5 6 Z', filled: true },
  good: { path: 'M1 6.5 L4.5 10 L11 2', filled: false },
  unknown: { path: 'M6 1 A5 5 0 1 1 5.99 1 Z', filled: false },
  plain: { path: 'M1 6 H11', filled: false },
};

export function SignShape({ kind }: { readonly kind: SignKind }) {
  const shape = SHAPES[kind];
  return (
    <svg viewBox="0 0 12 12" aria-hidden="true" focusable="false">
      <path
        d={shape.path}
        fill={shape.filled ? 'currentColor' : 'none'}
        stroke="currentColor"
        stroke-width={shape.filled ? 1 : 2}
        stroke-dasharray={kind === 'unknown' ? '2.6 1.6' : undefined}
        stroke-linejoin="round"
      />
    </svg>
  );
}

/** A shape and a word; the colour repeats them. */
export function Sign({ kind, children }: { readonly kind: SignKind; readonly children: ComponentChildren }) {
  return (
    <span class={`sign sign--${kind}`}>
      <SignShape kind={kind} />
      <span>{children}</span>
    </span>
  );
}
