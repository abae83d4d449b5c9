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
  'finding.leak.same_height':
    'After {times#refill|refills} the level fell at once to {crackMm} and stayed: soil that drinks would not stop at one height.',
  'finding.leak.now': 'At the present level of {levelMm} it takes about {nowLitresPerDay}.',
  'finding.leak.confirm':
    'Fill to the overflow, mark the level in the evening and look at dawn; look for wet spots about {crackMm} above the floor.',

  'finding.wick_failed.draws':
    'For {runDays} the reservoir has lost {usedLitresPerDay}, where the planting used to draw {usualLitresPerDay} in such weather.',
  'finding.wick_failed.soil_dries':
    'Meanwhile the soil went from {fromFraction} to {toFraction} moisture: the plants go on drinking.',
  'finding.wick_failed.water_stands': 'Water stands at {levelMm}, above the wick’s foot.',
  'finding.wick_failed.confirm':
    'Water once from above until the soil is moist through; if it dries again above standing water, the wick must be packed anew.',

  'finding.wick_limited.dries':
    'On {days#day|days} of the last twelve the soil was {deficitFraction} drier than it settles at.',
  'finding.wick_limited.water_stands':
    'Water stood at {levelMm} all the while: on hot days the wick lifts less than the plants use.',
  'finding.wick_limited.confirm': 'See whether the soil recovers on a cool day; shade, mulch or a second wick help.',

  'finding.demand_collapsed.draws':
    'The planting draws {usedLitresPerDay}, where it used to draw {usualLitresPerDay} in such weather; the change came about {onsetMs:day}.',
  'finding.demand_collapsed.soil_moist':
    'The soil stays moist at {moistureFraction}, so the water is there and is not wanted.',
  'finding.demand_collapsed.no_moisture': 'Without a moisture sensor a failed wick would look the same.',
  'finding.demand_collapsed.confirm': 'Look at the planting: is it cut back, dormant, ill or dead?',

  'finding.waterlogged.wet':
    'The soil has been at {moistureFraction} for two days, where it settles at {referenceFraction}.',
  'finding.waterlogged.above_port': 'The water stands at {levelMm}, above the overflow: see whether the port is clear.',
  'finding.waterlogged.from_above': 'No rain explains it: somebody may be watering from above.',
  'finding.waterlogged.confirm': 'Feel the soil a hand deep; lower the water and see whether it drains.',

  'finding.sensor_stuck.same':
    'The level has read {levelMm} to the last digit in {readings#reading|readings}, for {stuckHours}.',
  'finding.sensor_stuck.expected':
    'The plants should have drawn it down by {expectedMm}; the sensor’s own tremble is {noiseMm}.',
  'finding.sensor_stuck.confirm': 'Pour in a litre: the level should rise.',

  'finding.sensor_unplugged.none': 'No level in {readings#reading|readings} since {sinceMs}.',
  'finding.sensor_unplugged.end_of_scale':
    'The level went from {beforeMm} to {rawMm} in one step and has stayed there for {readings#reading|readings}.',
  'finding.sensor_unplugged.node_alive': 'The node itself goes on reporting.',
  'finding.sensor_unplugged.confirm': 'Check the plug and the cable of the level sensor.',

  'finding.sensor_fouled.noise': 'The level trembles by {noiseMm}, where {usualMm} was usual.',
  'finding.sensor_fouled.lags': 'After the last large refill the level took {lagHours} to follow.',
  'finding.sensor_fouled.confirm': 'Clean the sensor and its tube, then pour in a litre and watch the level.',

  'finding.sensor_drift.offset':
    'After full fills the level now comes to stand {offsetMm} from where it used to, {fills#fill|fills} in a row.',
  'finding.sensor_drift.effect': 'That makes the volume wrong by about {litres}.',
  'finding.sensor_drift.confirm': 'Fill until the port runs, wait until it stops, and set the sensor’s height anew.',

  'finding.clock_wrong.behind':
    'The newest reading of each of {messages#message|messages} was {offMinutes} old on arrival.',
  'finding.clock_wrong.ahead': 'The readings of {messages#message|messages} came {offMinutes} before their own time.',
  'finding.clock_wrong.confirm': 'Restart the node, or set its clock.',

  'finding.battery_low.volts': 'The battery is at {batteryV}.',
  'finding.battery_low.fraction': 'The battery is at {batteryFraction}.',
  'finding.battery_low.forecast': 'At this pace it is empty about {emptyMs:day}, {earliestMs:day} at the earliest.',
  'finding.battery_low.knee': 'It lost more than {dropV} within {days#day|days}: such cells end soon after.',
  'finding.battery_low.empty': 'Nodes stop at about this voltage.',
  'finding.battery_low.confirm': 'Change the battery at the next visit.',

  'finding.nodes_swapped.fits':
    'What this node has reported since {sinceMs:day} fits {otherContainer} better than {thisContainer}, and the other way round.',
  'finding.nodes_swapped.score':
    'Exchanged, both records fit far better over {days#day|days} (log-likelihood {score} higher).',
  'finding.nodes_swapped.confirm': 'Read the number on the node in each of the two pots.',

  'finding.instead_of.leak': 'The record would also fit a leak (confidence {asideFraction}), which this explains.',
  'finding.instead_of.wick_failed':
    'The record would also fit a failed wick (confidence {asideFraction}), which this explains.',
  'finding.instead_of.wick_limited':
    'The record would also fit a wick that lifts too little (confidence {asideFraction}), which this explains.',
  'finding.instead_of.demand_collapsed':
    'The record would also fit a planting that stopped drinking (confidence {asideFraction}), which this explains.',
  'finding.instead_of.overflow_blocked':
    'The record would also fit a blocked overflow (confidence {asideFraction}), which this explains.',
  'finding.instead_of.overflow_partly_blocked':
    'The record would also fit a partly blocked overflow (confidence {asideFraction}), which this explains.',
  'finding.instead_of.sensor_stuck':
    'The record would also fit a stuck sensor (confidence {asideFraction}), which this explains.',
  'finding.instead_of.sensor_fouled':
    'The record would also fit a fouled sensor (confidence {asideFraction}), which this explains.',
  'finding.instead_of.sensor_drift':
    'The record would also fit a drifting sensor (confidence {asideFraction}), which this explains.',
} as const;
