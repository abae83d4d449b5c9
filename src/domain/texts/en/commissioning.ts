/** What is wrong with pours, shapes and wicks, and how far a proof has come. */
export const commissioning = {
  'pours.too_few': 'Only {pours#pour|pours}: at least {leastPours} are needed, six are good.',
  'pours.too_few_below':
    'Only {usefulPours} of {pours#pour|pours} stayed below the overflow; at least {leastPours} are needed. Pour smaller jugs.',
  'pours.not_numbers': 'Pour {pour}: litres and level have to be numbers.',
  'pours.nothing_added': 'Pour {pour} adds no water.',
  'pours.level_fell':
    'Pour {pour}: the level fell from {beforeMm} to {afterMm} although water went in. Let it settle and read again.',
  'pours.miscounted':
    'Pour {pour}: {pouredLitres} raised the level by {riseMm}, where the pours beside it let one expect {expectedMm}. Was it counted twice or left out, or had the level not settled?',
  'pours.contradicted':
    'Pour {pour}: {totalLitres} in all at {levelMm} does not fit the other pours, which put about {expectedLitres} there. Was a pour counted twice or left out, or had the level not settled?',
  'pours.too_close': 'The pours lie too close together to tell the vessel’s shape. Spread them from floor to port.',
  'pours.holds_less':
    'The pours give a vessel that holds less at a higher level. Pour again in even steps, and let it settle.',
  'shape.above_zero': 'This has to be above zero.',
  'shape.zero_or_more': 'This cannot be below zero.',
  'shape.overflow_above_plate': 'The overflow at {overflowMm} lies above the plate at {plateMm}.',
  'shape.no_room': 'Feet and wick leave no room for water at {levelMm}. Check their sizes.',
  'wick.proved':
    'Proved: over {days#day|days} without water from above the soil held between {lowFraction} and {highFraction} while {drawnLitres} went up the wick.',
  'wick.disproved':
    'The wick does not feed: the soil dried from {fromFraction} to {toFraction} above standing water. Wet it from above once, and if that does not help, repack it.',
  'wick.not_yet': 'Not yet proved: {days#day|days} of at least five count so far.',
  'wick.lack.no_moisture_sensor': 'Without a moisture sensor the wick cannot be proved from afar; look at the soil.',
  'wick.lack.no_level': 'The level is not known, so nobody knows what the wick draws.',
  'wick.lack.no_water_at_the_wick': 'Water has to stand above the wick’s foot; fill the reservoir.',
  'wick.lack.wetted_from_above': 'Water came from above in the last days; only dry days count.',
  'wick.lack.too_few_days': 'More days without water from above are needed.',
  'wick.lack.too_little_drawn': 'The plants have drawn too little yet to tell a wet wick from a full soil.',
} as const;
