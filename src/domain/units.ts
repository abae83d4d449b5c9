/** Exact by definition: US gallon = 231 cubic inches, inch = 25.4 mm (UCUM 2.2, `[gal_us]`, `[in_i]`). */
export const LITRES_PER_US_GALLON = 3.785411784;
export const MM_PER_INCH = 25.4;

export const litresToUsGallons = (litres: number): number => litres / LITRES_PER_US_GALLON;
export const usGallonsToLitres = (usGallons: number): number => usGallons * LITRES_PER_US_GALLON;
export const mmToInches = (mm: number): number => mm / MM_PER_INCH;
export const inchesToMm = (inches: number): number => inches * MM_PER_INCH;
export const celsiusToFahrenheit = (celsius: number): number => (celsius * 9) / 5 + 32;
export const fahrenheitToCelsius = (fahrenheit: number): number => ((fahrenheit - 32) * 5) / 9;
