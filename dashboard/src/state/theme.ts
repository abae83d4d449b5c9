export const LOOKS = ['auto', 'light', 'dark', 'sun'] as const;
export type Look = (typeof LOOKS)[number];
export type Theme = Exclude<Look, 'auto'>;

export const isLook = (value: unknown): value is Look => LOOKS.some((look) => look === value);

export function themeOf(look: Look, deviceIsDark: boolean): Theme {
  if (look !== 'auto') return look;
  return deviceIsDark ? 'dark' : 'light';
}
