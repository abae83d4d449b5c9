/** The tokens of the look as a canvas needs them. */
export interface ChartColours {
  readonly ink: string;
  readonly soft: string;
  readonly rule: string;
  readonly edge: string;
  readonly water: string;
  readonly waterSoft: string;
  readonly clay: string;
  readonly claySoft: string;
  readonly ochre: string;
  readonly ochreSoft: string;
  readonly leaf: string;
  readonly fog: string;
  readonly paper: string;
  readonly font: string;
}

export function chartColours(): ChartColours {
  const style = getComputedStyle(document.documentElement);
  const read = (name: string): string => style.getPropertyValue(name).trim();
  return {
    ink: read('--ink'),
    soft: read('--ink-soft'),
    rule: read('--rule'),
    edge: read('--edge'),
    water: read('--water'),
    waterSoft: read('--water-soft'),
    clay: read('--clay'),
    claySoft: read('--clay-soft'),
    ochre: read('--ochre'),
    ochreSoft: read('--ochre-soft'),
    leaf: read('--leaf'),
    fog: read('--fog'),
    paper: read('--paper'),
    font: `13px ${read('--face-work')}`,
  };
}

/** Labels of the time axis: hours within days, days within months, months within years. */
export function timeLabels(seconds: readonly number[], locale: string, timeZone: string): string[] {
  const step = seconds.length < 2 ? 86_400 : seconds[1]! - seconds[0]!;
  const parts: Intl.DateTimeFormatOptions =
    step < 86_400
      ? { hour: '2-digit', minute: '2-digit', hourCycle: 'h23' }
      : step < 28 * 86_400
        ? { day: 'numeric', month: 'short' }
        : { month: 'short', year: '2-digit' };
  const fine = new Intl.DateTimeFormat(locale, { timeZone, ...parts });
  const day = new Intl.DateTimeFormat(locale, { timeZone, weekday: 'short', day: 'numeric' });
  return seconds.map((second) => {
    const words = fine.format(second * 1000);
    return step < 86_400 && words === '00:00' ? day.format(second * 1000) : words;
  });
}

/** Labels of the other axis, with as many digits as the steps need. */
export function valueLabels(values: readonly number[], locale: string, unit: string): string[] {
  const format = new Intl.NumberFormat(locale, { maximumFractionDigits: 6 });
  return values.map((value) => `${format.format(value)} ${unit}`);
}
