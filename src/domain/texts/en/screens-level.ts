/** What the sensor says while somebody stands at the pot and fills. */
export const levelPart = {
  'level.watch': 'While filling: watch the level',
  'level.watch_for': 'While filling, about {pumpMinutes} at the pump: watch the level',
  'level.now': '{levelMm}, {litres}',
  'level.at': 'at {atMs:time}',
  'level.next': 'The sensor’s word comes at about {nextMs:time}.',
  'level.never': 'The sensor has not spoken yet.',
  'level.hurry': 'Ask it to report now',
  'level.watching': 'asked to report fast until {untilMs:time}',
  'level.no_node': 'No node is on this pot.',
  'level.no_signal': 'No signal: the sensor’s word comes later, by itself.',
  'level.risen': 'Risen by {risenMm}: {risenLitres} of {plannedLitres}.',
  'level.not_rising': 'The level does not rise. Is the hose in the fill tube of this pot, and the pump running?',
} as const;
