/** value in the canonical unit = value sent * scale + offset. */
export interface UnitConversion {
  readonly scale: number;
  readonly offset: number;
}

const by = (scale: number, offset = 0): UnitConversion => ({ scale, offset });

/** How one quantity is taken: units as SenML writes them, and the limits beyond which a value cannot be true. */
export interface QuantityRule<Field extends string> {
  readonly field: Field;
  readonly units: ReadonlyMap<string, UnitConversion>;
  readonly least: number;
  readonly most: number;
  /** What least and most are in, for a sentence. */
  readonly unitShown: string;
  /** Step to which converted values are rounded: finer than any sensor, coarser than the noise of a conversion. */
  readonly step: number;
  /** The value is a share of one, and senders mix up ratio and percent. */
  readonly ratio: boolean;
}

function rule<Field extends string>(
  field: Field,
  unitShown: string,
  units: Readonly<Record<string, UnitConversion>>,
  limits: { readonly least: number; readonly most: number },
  step: number,
  ratio = false,
): QuantityRule<Field> {
  return { field, unitShown, units: new Map(Object.entries(units)), ...limits, step, ratio };
}

/**
 * A sensor whose zero has drifted shows a little less than nothing in an empty reservoir; 50 mm below is a fault.
 * No reservoir of a planter is 5 m deep; a value beyond it is a wrong unit or an unplugged sensor's full scale.
 */
export const LEVEL_LIMITS_MM = { least: -50, most: 5000 } as const;

/** Outside the range in which small electronics work at all (common practice, no source): the probe is broken. */
export const NODE_TEMPERATURE_LIMITS_C = { least: -60, most: 100 } as const;

/** From a flat cell to a 48 V solar battery being charged (common practice, no source). */
export const BATTERY_LIMITS_V = { least: 0, most: 60 } as const;

/** From below thermal noise to a transmitter at the aerial (common practice, no source). */
export const SIGNAL_LIMITS_DBM = { least: -200, most: 60 } as const;

export const FRACTION_LIMITS = { least: 0, most: 1 } as const;

/** World records of air temperature, -89.2 and 56.7 °C (WMO archive of extremes, from memory), with room. */
export const AIR_TEMPERATURE_LIMITS_C = { least: -95, most: 65 } as const;

/** Capacitive sensors read a few percent over 100 in fog and dew; that is still taken, as saturation. */
export const HUMIDITY_LIMITS = { least: 0, most: 1.05 } as const;

/** The strongest gust on record is 113 m/s (WMO archive of extremes, from memory). */
export const WIND_LIMITS_M_PER_S = { least: 0, most: 120 } as const;

/** Thermopiles read a little below zero at night; bright cloud edges pass the solar constant of 1361 W/m2 for moments. */
export const SOLAR_LIMITS_W_PER_M2 = { least: -20, most: 1800 } as const;

/** More than the 305 mm in 42 minutes on record (WMO archive of extremes, from memory) does not fall between records. */
export const RAIN_LIMITS_MM = { least: 0, most: 500 } as const;

/** Sea-level record high with room, and the pressure at about 5,500 m, above any garden. */
export const PRESSURE_LIMITS_PA = { least: 50_000, most: 110_000 } as const;

export type BatteryField = 'batteryV' | 'batteryFraction';
export type NodeField = 'levelMm' | 'moistureFraction' | 'temperatureC' | BatteryField | 'signalDbm';

/**
 * Quantities of a node by the last segment of the resolved name. A quantity may have several rules, told apart by
 * unit. Units of RFC 8428 section 12.1 first, then the secondary ones of RFC 8798 (scale and offset from its table).
 */
export const NODE_QUANTITIES: ReadonlyMap<string, readonly QuantityRule<NodeField>[]> = new Map([
  ['level', [rule<NodeField>('levelMm', 'mm', { m: by(1000), mm: by(1), cm: by(10) }, LEVEL_LIMITS_MM, 1e-3)]],
  [
    'moisture',
    // In SenML "%" is another spelling of "/", the ratio 0-1 (RFC 8428 section 12.1); percent is "/100" (RFC 8798).
    [
      rule<NodeField>(
        'moistureFraction',
        '',
        { '/': by(1), '%': by(1), '/100': by(0.01) },
        FRACTION_LIMITS,
        1e-6,
        true,
      ),
    ],
  ],
  [
    'temperature',
    [rule<NodeField>('temperatureC', '°C', { Cel: by(1), K: by(1, -273.15) }, NODE_TEMPERATURE_LIMITS_C, 1e-3)],
  ],
  [
    'battery',
    [
      rule<NodeField>('batteryV', 'V', { V: by(1), mV: by(1e-3) }, BATTERY_LIMITS_V, 1e-4),
      rule<NodeField>('batteryFraction', '', { '%EL': by(0.01) }, FRACTION_LIMITS, 1e-6),
    ],
  ],
  ['signal', [rule<NodeField>('signalDbm', 'dBm', { dBW: by(1, 30), dBm: by(1) }, SIGNAL_LIMITS_DBM, 1e-2)]],
]);

export type WeatherField =
  | 'temperatureC'
  | 'humidityFraction'
  | 'windMPerS'
  | 'wind10MPerS'
  | 'solarWPerM2'
  | 'rainMm'
  | 'pressurePa';

const SPEED = { 'm/s': by(1), 'km/h': by(1 / 3.6) };

/** Quantities of a weather station; `wind10` is measured at 10 m and brought down to 2 m afterwards. */
export const WEATHER_QUANTITIES: ReadonlyMap<string, readonly QuantityRule<WeatherField>[]> = new Map([
  [
    'temperature',
    [rule<WeatherField>('temperatureC', '°C', { Cel: by(1), K: by(1, -273.15) }, AIR_TEMPERATURE_LIMITS_C, 1e-3)],
  ],
  [
    'humidity',
    [
      rule<WeatherField>(
        'humidityFraction',
        '',
        { '%RH': by(0.01), '/100': by(0.01), '/': by(1) },
        HUMIDITY_LIMITS,
        1e-6,
      ),
    ],
  ],
  ['wind', [rule<WeatherField>('windMPerS', 'm/s', SPEED, WIND_LIMITS_M_PER_S, 1e-4)]],
  ['wind10', [rule<WeatherField>('wind10MPerS', 'm/s', SPEED, WIND_LIMITS_M_PER_S, 1e-4)]],
  ['solar', [rule<WeatherField>('solarWPerM2', 'W/m2', { 'W/m2': by(1) }, SOLAR_LIMITS_W_PER_M2, 1e-3)]],
  ['rain', [rule<WeatherField>('rainMm', 'mm', { mm: by(1), m: by(1000), cm: by(10) }, RAIN_LIMITS_MM, 1e-4)]],
  ['pressure', [rule<WeatherField>('pressurePa', 'Pa', { Pa: by(1), hPa: by(100) }, PRESSURE_LIMITS_PA, 1e-2)]],
]);
