/** The owner's account of the water. */
export const waterScreen = {
  'water.title': 'Water',
} as const;
