/** What was found, what speaks for it, and what would settle it. */
export const findings = {
  'finding.node_silent.since': 'No reading since {lastMs}: {silentHours} of silence.',
  'finding.node_silent.never': 'Nothing has been heard since the node was assigned on {sinceMs}.',
  'finding.node_silent.promised': 'The node promised a reading every {intervalMinutes}.',
  'finding.node_silent.learnt': 'It used to report every {intervalMinutes}.',
  'finding.node_silent.confirm': 'Look at the node’s battery and antenna, and whether its gateway is up.',

  'finding.overflow.stands':
    'The water has stood {aboveMm} above the overflow at {invertMm} for {standHours}; a clear port lets that out within an hour.',
  'finding.overflow.stood':
    'The water stood {aboveMm} above the overflow at {invertMm} for {standHours}; a clear port lets that out within an hour.',
  'finding.overflow.falls_as_drawn':
    'It fell {fellMm} in that time, where the plants alone would take {expectedMm}: nothing runs out.',
  'finding.overflow.falls_slowly':
    'It fell {fellMm} in {standHours}: more than the plants take, so some water gets out.',
  'finding.overflow.repeated': 'Seen after {times#fill|fills}.',
  'finding.overflow.confirm': 'Clear the port and pour until it runs: it should run at once and stop at the invert.',

  'finding.leak.size':
    'Loses about {leakLitresPerDay} when full ({leastLitresPerDay} to {mostLitresPerDay}) beyond what weather and planting explain.',
  'finding.leak.height': 'The hole seems to be at {crackMm}: the water should stop there, with {stopsLitres} left.',
  'finding.leak.since': 'Seen in {blocks#stretch|stretches} of falling water since about {onsetMs:day}.',
  'finding.leak.not_demand':
    'A leak explains the record better than thirstier plants would (log-likelihood {leakScore} against {demandScore}).',
  'finding.leak.now': 'At the present level of {levelMm} it takes about {nowLitresPerDay}.',
  'finding.leak.confirm':
    'Fill to the overflow, mark the level in the evening and look at dawn; look for wet spots about {crackMm} above the floor.',
} as const;
