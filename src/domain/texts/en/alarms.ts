export const alarms = {} as const;
