export const screens = {} as const;
