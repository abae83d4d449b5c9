export const refusals = {} as const;
