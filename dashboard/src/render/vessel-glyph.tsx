/**
 * A pot in section at the size of a word: the rim, the walls, and the water at its share of the reservoir. Hatched where
 * the level is not known. What it shows stands in words beside it, so it is hidden from screen readers.
 */
export function VesselGlyph({ fraction }: { readonly fraction: number | null }) {
  const held = fraction === null ? 0 : Math.min(1, Math.max(0, fraction));
  const floorY = 29;
  const brimY = 7;
  const levelY = floorY - held * (floorY - brimY);
  const inset = (y: number): number => 4 + ((y - 3) / (floorY - 3)) * 4;
  const left = inset(levelY);
  return (
    <svg class="glyph" viewBox="0 0 32 32" aria-hidden="true" focusable="false">
      {fraction === null ? (
        <path class="glyph-unknown" d="M6 12 L13 5 M6 19 L20 5 M7 25 L26 6 M11 28 L26 13 M18 28 L25 21" />
      ) : (
        <path class="glyph-water" d={`M${left} ${levelY} H${32 - left} L24 ${floorY} H8 Z`} />
      )}
      <path class="glyph-pot" d="M2 3 H4 L8 29 H24 L28 3 H30" />
    </svg>
  );
}
