export const analysis = {} as const;
