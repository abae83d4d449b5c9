import { useId, useState } from 'preact/hooks';
import { fromClock, toClock, WEEKDAYS, weekdayName } from '../state/week.js';
import { useApp } from './app-context.js';

export interface Hours {
  readonly weekday: number;
  readonly fromMinute: number;
  readonly toMinute: number;
}

export interface DaySpan {
  readonly fromDay: string;
  readonly toDay: string;
}

export function TextField({
  label,
  value,
  onValue,
  type = 'text',
  required = false,
  ...more
}: {
  readonly label: string;
  readonly value: string;
  readonly onValue: (value: string) => void;
  readonly type?: 'text' | 'time' | 'date' | 'number' | 'email' | 'url';
  readonly required?: boolean;
  readonly min?: string;
  readonly max?: string;
  readonly step?: string;
  readonly list?: string;
}) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <input
        id={id}
        type={type}
        value={value}
        required={required}
        {...more}
        onInput={(event) => onValue(event.currentTarget.value)}
      />
    </div>
  );
}

export function SelectField({
  label,
  value,
  options,
  onValue,
}: {
  readonly label: string;
  readonly value: string;
  readonly options: readonly { readonly value: string; readonly words: string }[];
  readonly onValue: (value: string) => void;
}) {
  const id = useId();
  return (
    <div class="field">
      <label for={id}>{label}</label>
      <select id={id} value={value} onChange={(event) => onValue(event.currentTarget.value)}>
        {options.map((option) => (
          <option key={option.value} value={option.value}>
            {option.words}
          </option>
        ))}
      </select>
    </div>
  );
}

export function CheckField({
  label,
  checked,
  onChecked,
}: {
  readonly label: string;
  readonly checked: boolean;
  readonly onChecked: (checked: boolean) => void;
}) {
  return (
    <label class="choice">
      <input type="checkbox" checked={checked} onChange={(event) => onChecked(event.currentTarget.checked)} />
      <span>{label}</span>
    </label>
  );
}

/** Minutes after midnight as a clock; an unreadable clock leaves the value as it was. */
export function ClockField({
  label,
  minute,
  onMinute,
}: {
  readonly label: string;
  readonly minute: number;
  readonly onMinute: (minute: number) => void;
}) {
  return (
    <TextField
      label={label}
      type="time"
      value={toClock(minute)}
      required
      onValue={(text) => {
        const read = fromClock(text);
        if (read !== null) onMinute(read);
      }}
    />
  );
}

/** Hours by weekday, one line each. */
export function HoursRows({
  legend,
  hours,
  onHours,
  usual,
}: {
  readonly legend: string;
  readonly hours: readonly Hours[];
  readonly onHours: (hours: readonly Hours[]) => void;
  /** What a new line begins with. */
  readonly usual: Omit<Hours, 'weekday'>;
}) {
  const { voice } = useApp();
  const change = (index: number, next: Partial<Hours>): void =>
    onHours(hours.map((one, i) => (i === index ? { ...one, ...next } : one)));
  const free = WEEKDAYS.find((weekday) => hours.every((one) => one.weekday !== weekday)) ?? 1;
  return (
    <fieldset class="rows">
      <legend class="label">{legend}</legend>
      {hours.map((one, index) => {
        const day = weekdayName(one.weekday, voice.reader.locale, 'long');
        return (
          <div key={`${index} ${hours.length}`} class="row">
            <SelectField
              label={voice.say('hours.weekday')}
              value={String(one.weekday)}
              options={WEEKDAYS.map((weekday) => ({
                value: String(weekday),
                words: weekdayName(weekday, voice.reader.locale, 'long'),
              }))}
              onValue={(value) => change(index, { weekday: Number(value) })}
            />
            <ClockField
              label={voice.say('hours.from')}
              minute={one.fromMinute}
              onMinute={(fromMinute) => change(index, { fromMinute })}
            />
            <ClockField
              label={voice.say('hours.to')}
              minute={one.toMinute}
              onMinute={(toMinute) => change(index, { toMinute })}
            />
            <button
              type="button"
              class="press press--plain"
              aria-label={voice.say('hours.remove_for', { day, from: toClock(one.fromMinute) })}
              onClick={() => onHours(hours.filter((_, i) => i !== index))}
            >
              {voice.say('hours.remove')}
            </button>
          </div>
        );
      })}
      <button type="button" class="press" onClick={() => onHours([...hours, { weekday: free, ...usual }])}>
        {voice.say('hours.add')}
      </button>
    </fieldset>
  );
}

/** Spans of days, with a small form for one more. */
export function SpanRows({
  legend,
  none,
  add,
  spans,
  onSpans,
}: {
  readonly legend: string;
  readonly none: string;
  readonly add: string;
  readonly spans: readonly DaySpan[];
  readonly onSpans: (spans: readonly DaySpan[]) => void;
}) {
  const { voice } = useApp();
  const [fromDay, setFromDay] = useState('');
  const [toDay, setToDay] = useState('');
  const last = toDay === '' ? fromDay : toDay;
  return (
    <fieldset class="rows">
      <legend class="label">{legend}</legend>
      {spans.length === 0 ? <p class="small soft">{none}</p> : null}
      {spans.map((span, index) => (
        <div key={`${span.fromDay} ${span.toDay}`} class="row">
          <p>{voice.say('away.span', { from: span.fromDay, to: span.toDay })}</p>
          <button
            type="button"
            class="press press--plain"
            aria-label={voice.say('told.away_remove_for', { from: span.fromDay, to: span.toDay })}
            onClick={() => onSpans(spans.filter((_, i) => i !== index))}
          >
            {voice.say('told.away_remove')}
          </button>
        </div>
      ))}
      <div class="row">
        <TextField label={voice.say('told.first_day')} type="date" value={fromDay} onValue={setFromDay} />
        <TextField
          label={voice.say('told.last_day')}
          type="date"
          value={toDay}
          {...(fromDay === '' ? {} : { min: fromDay })}
          onValue={setToDay}
        />
        <button
          type="button"
          class="press"
          disabled={fromDay === '' || last < fromDay}
          onClick={() => {
            onSpans([...spans, { fromDay, toDay: last }]);
            setFromDay('');
            setToDay('');
          }}
        >
          {add}
        </button>
      </div>
    </fieldset>
  );
}
