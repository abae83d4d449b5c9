import { type DryAxis, dayMarks, dryWindow, type Quantiles, shareAt } from '../state/dry-axis.js';
import { useApp } from './app-context.js';

/** Shares of the axis that a name of three letters and of one letter want. */
const SHORT_NAME_SHARE = 0.11;
const NARROW_NAME_SHARE = 0.06;

const percent = (share: number): string => `${(share * 100).toFixed(2)}%`;

/** The names of the days over the bars; one for the whole sheet. */
export function DryAxisHead({ axis }: { readonly axis: DryAxis }) {
  const { voice } = useApp();
  const { locale } = voice.reader;
  const short = new Intl.DateTimeFormat(locale, { timeZone: axis.timeZone, weekday: 'short' });
  const narrow = new Intl.DateTimeFormat(locale, { timeZone: axis.timeZone, weekday: 'narrow' });
  return (
    <div class="dry-axis" aria-hidden="true">
      {[{ ms: axis.fromMs, share: 0 }, ...dayMarks(axis)].map((mark, i, marks) => {
        const next = marks[i + 1]?.share ?? 1;
        const room = next - mark.share;
        // A sliver of a day has no room for its name.
        return room < NARROW_NAME_SHARE ? null : (
          <span key={mark.ms} style={{ left: percent((mark.share + next) / 2) }}>
            {(room < SHORT_NAME_SHARE ? narrow : short).format(mark.ms)}
          </span>
        );
      })}
    </div>
  );
}

/**
 * When one pot runs dry on the sheet's axis: a bar from p10 to p90 with a tick at p50. Its words stand beside it, so
 * screen readers skip the drawing.
 */
export function DryBar({ axis, dry }: { readonly axis: DryAxis; readonly dry: Quantiles | null }) {
  const window = dry === null ? null : dryWindow(axis, dry);
  return (
    <div class={dry === null ? 'dry-bar dry-bar--unknown' : 'dry-bar'} aria-hidden="true">
      {dayMarks(axis).map((mark) => (
        <i key={mark.ms} class="dry-day" style={{ left: percent(shareAt(axis, mark.ms)) }} />
      ))}
      {window === null ? null : (
        <>
          <b
            class={window.open ? 'dry-window dry-window--open' : 'dry-window'}
            style={{ left: percent(window.from), right: percent(1 - window.to) }}
          />
          {window.middle === null ? null : <b class="dry-middle" style={{ left: percent(window.middle) }} />}
        </>
      )}
    </div>
  );
}
