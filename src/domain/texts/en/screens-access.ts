/** How to get into a site, and whom to call there. */
export const accessPart = {
  'access.title': 'Getting in',
  'access.show': 'Show how to get in',
  'access.show_for': 'Show how to get in: {site}',
  'access.recorded': 'Each look is recorded.',
  'access.none': 'Nothing is noted about getting in.',
  'access.call': 'Call {name}',
  'access.change': 'Change',
  'access.notes': 'Gate code, key, dog: how to get in',
  'access.contact_name': 'Whom to call there',
  'access.contact_phone': 'Telephone',
  'access.keep': 'Keep',
  'access.cancel': 'Leave as it is',
  'access.kept': 'Kept, encrypted.',
} as const;
