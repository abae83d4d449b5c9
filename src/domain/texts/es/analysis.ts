import type { analysis as english } from '../en/analysis.js';

/** How a container's numbers came about. */
export const analysis: Record<keyof typeof english, string> = {
  'analysis.headline':
    'Quedan {litres} y consume {rateLitresPerDay}: seca {dryMs}, lo más probable entre {earliestMs} y {latestMs}.',
  'analysis.headline_beyond':
    'Quedan {litres} y consume {rateLitresPerDay}: dura más que las próximas semanas; no se seca antes de {p10Ms}.',
  'analysis.headline_learning': 'Quedan {litres} ({levelMm}). Cuánto duran no se sabe todavía.',
  'analysis.headline_no_level': 'No se conoce el nivel.',
  'analysis.headline_dry': 'El agua está al pie de la mecha o más baja ({levelMm}): rellene ahora.',
  'analysis.no_level': 'Todavía no ha llegado ningún nivel.',
  'analysis.too_young': 'Pocos datos: se han visto {haveDays} de consumo, hacen falta {needDays}.',
  'analysis.rate':
    'Consumo esperado {rateLitresPerDay}: {litresPerMm} litros por cada mm de demanda evaporativa, {et0Mm} previstos hoy; aprendido de {dataDays} de datos.',
  'analysis.no_weather': 'No se conoce el tiempo de este sitio: la demanda sigue solo la estación y la latitud.',
  'analysis.weather_forecast':
    'Pronóstico del tiempo usado para {forecastDays#día|días}; después, la media de la estación.',
  'analysis.weather_season': 'No hay pronóstico del tiempo: los próximos días se toman como las últimas semanas.',
  'analysis.debt': 'La tierra reseca tomará primero unos {debtLitres}.',
  'analysis.surplus': 'La tierra guarda unos {surplusLitres} más de lo habitual, que las plantas gastan primero.',
  'analysis.leak': 'Se supone una fuga que se lleva además {leakLitresPerDay}.',
  'analysis.no_moisture': 'Sin sensor de humedad: lo que toma una tierra reseca tras un relleno no se ve.',
  'analysis.stale': 'El último nivel tiene {ageHours} ({lastMs}); el pronóstico sigue desde allí y se ensancha.',
  'analysis.silent': 'El nodo calla: lo que se dice aquí se apoya en datos viejos.',
  'analysis.vessel':
    'El depósito tiene {capacityLitres} hasta el rebosadero; {deadLitres} bajo el pie de la mecha no cuentan.',
  'analysis.noise': 'El nivel tiembla unos {noiseMm}.',
  'analysis.last_refill': 'Último relleno: {refillLitres}, {refillMs}.',
  'analysis.last_refill_at_least': 'Último relleno: al menos {refillLitres}, {refillMs}; el rebosadero corrió.',
  'analysis.calibrated':
    'El ancho del margen está corregido según cómo acabaron los pronósticos anteriores, a fecha de {frozenMs}.',
};
