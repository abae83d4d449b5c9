import { litresToUsGallons, mmToInches, usGallonsToLitres } from '../../../src/domain/units.js';
import { typedNumber } from './typed.js';

export interface TypedUnits {
  readonly volume: 'L' | 'US_gal';
  readonly length: 'mm' | 'in';
}

const MM_PER_INCH = 25.4;

/** Millimetres of what was typed in the person's unit of length; null where it is no number. */
export function mmOfTyped(text: string, units: TypedUnits): number | null {
  const value = typedNumber(text);
  if (value === null) return null;
  return units.length === 'mm' ? value : value * MM_PER_INCH;
}

export function litresOfText(text: string, units: TypedUnits): number | null {
  const value = typedNumber(text);
  if (value === null) return null;
  return units.volume === 'L' ? value : usGallonsToLitres(value);
}

/** As it is to stand in a field, rounded to what a tape measure or a jug can show. */
export function typedLength(mm: number, units: TypedUnits): string {
  return units.length === 'mm' ? String(Math.round(mm * 10) / 10) : String(Math.round(mmToInches(mm) * 100) / 100);
}

export function typedLitres(litres: number, units: TypedUnits): string {
  return String(Math.round((units.volume === 'L' ? litres : litresToUsGallons(litres)) * 100) / 100);
}

export const lengthUnit = (units: TypedUnits): string => units.length;
export const volumeUnit = (units: TypedUnits): string => (units.volume === 'L' ? 'L' : 'gal');
