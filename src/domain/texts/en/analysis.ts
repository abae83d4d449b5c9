/** Forecasts and what lies behind them; findings follow below. */
export const analysis = {
  'analysis.headline':
    '{litres} left, using {rateLitresPerDay}: dry {dryMs}, most likely between {earliestMs} and {latestMs}.',
  'analysis.headline_beyond':
    '{litres} left, using {rateLitresPerDay}: lasts beyond the coming weeks; not before {p10Ms}.',
  'analysis.headline_learning': '{litres} left ({levelMm}). How long that lasts is not known yet.',
  'analysis.headline_no_level': 'The level is not known.',
  'analysis.headline_dry': 'The water stands at or below the wick foot ({levelMm}): refill now.',
  'analysis.no_level': 'No level has been received yet.',
  'analysis.too_young': 'Too little data: {haveDays} of use seen, {needDays} needed.',
  'analysis.rate':
    'Expected use {rateLitresPerDay}: {litresPerMm} litres for each mm of evaporative demand, {et0Mm} expected today; learnt from {dataDays} of data.',
  'analysis.no_weather': 'No weather is known for this site: the demand follows season and latitude only.',
  'analysis.weather_forecast':
    'Weather forecast used for the next {forecastDays#day|days}, the season’s mean after that.',
  'analysis.weather_season': 'No weather forecast is at hand: the coming days are taken like the last weeks.',
  'analysis.debt': 'The dried-out soil will first take back about {debtLitres}.',
  'analysis.surplus': 'The soil holds about {surplusLitres} more than usual, which the plants use first.',
  'analysis.leak': 'A leak is held to take {leakLitresPerDay} on top.',
  'analysis.no_moisture': 'No moisture sensor: what a dried-out soil takes after a refill is not seen.',
  'analysis.stale': 'The last level is {ageHours} old ({lastMs}); the forecast goes on from there and widens.',
  'analysis.silent': 'The node is silent: what is said here rests on old data.',
  'analysis.vessel':
    'The reservoir holds {capacityLitres} up to the port; {deadLitres} below the wick foot do not count.',
  'analysis.noise': 'The level is noisy by about {noiseMm}.',
  'analysis.last_refill': 'Last refill: {refillLitres} at {refillMs}.',
  'analysis.last_refill_at_least': 'Last refill: at least {refillLitres} at {refillMs}; the port ran.',
  'analysis.calibrated': 'The interval’s width is corrected by how earlier forecasts came out, as of {frozenMs}.',
} as const;
