import { useState } from 'preact/hooks';
import { daysOfMonth, MONTHS, monthName, yearDayOf, yearDayWords } from '../state/year-day.js';
import { useApp } from './app-context.js';
import { SelectField } from './fields.js';

const APRIL = 4;

/** Days that come round every year. */
export function YearDayRows({
  legend,
  days,
  onDays,
}: {
  readonly legend: string;
  /** `MM-DD`. */
  readonly days: readonly string[];
  readonly onDays: (days: readonly string[]) => void;
}) {
  const { voice } = useApp();
  const { locale } = voice.reader;
  const [month, setMonth] = useState(APRIL);
  const [day, setDay] = useState(1);
  const added = yearDayOf(month, day);
  return (
    <fieldset class="rows">
      <legend class="label">{legend}</legend>
      {days.length === 0 ? <p class="small soft">{voice.say('terms.replant_none')}</p> : null}
      {days.map((one) => (
        <div key={one} class="row">
          <p>{yearDayWords(one, locale)}</p>
          <button
            type="button"
            class="press press--plain"
            aria-label={voice.say('terms.replant_remove', { day: yearDayWords(one, locale) })}
            onClick={() => onDays(days.filter((other) => other !== one))}
          >
            {voice.say('told.away_remove')}
          </button>
        </div>
      ))}
      <div class="row">
        <SelectField
          label={voice.say('terms.replant_month')}
          value={String(month)}
          options={MONTHS.map((one) => ({ value: String(one), words: monthName(one, locale) }))}
          onValue={(text) => setMonth(Number(text))}
        />
        <SelectField
          label={voice.say('terms.replant_day')}
          value={String(Math.min(day, daysOfMonth(month).length))}
          options={daysOfMonth(month).map((one) => ({ value: String(one), words: String(one) }))}
          onValue={(text) => setDay(Number(text))}
        />
        <button
          type="button"
          class="press"
          disabled={days.includes(added)}
          onClick={() => onDays([...days, added].toSorted())}
        >
          {voice.say('terms.replant_add')}
        </button>
      </div>
    </fieldset>
  );
}
