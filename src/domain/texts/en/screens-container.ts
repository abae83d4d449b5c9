/** A container's page and the list of containers. */
export const containerScreen = {
  'containers.title': 'Containers',
  'containers.search': 'Search by pot, place, site, account or plant',
  'containers.found': '{found} of {pots#pot|pots}',
  'containers.none': 'No pot yet. Load a fleet with the import command, or add one over the API.',
  'containers.none_found': 'No pot has all these words. Try fewer.',
  'containers.pot': 'Pot',
  'containers.where': 'Where',
  'containers.water': 'Water',
  'containers.dry': 'Dry',
  'containers.sign': 'State',
  'containers.in_order': 'in order',
  'containers.csv': 'Save as CSV',
} as const;
