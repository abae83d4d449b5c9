import type { findings as english } from '../en/findings.js';

/** What was found, what speaks for it, and what would settle it. */
export const findings: Record<keyof typeof english, string> = {
  'finding.node_silent.since': 'Ninguna lectura desde {lastMs}: {silentHours} de silencio.',
  'finding.node_silent.never': 'No se ha oído nada desde que se asignó el nodo, {sinceMs}.',
  'finding.node_silent.promised': 'El nodo prometió una lectura cada {intervalMinutes}.',
  'finding.node_silent.learnt': 'Solía enviar cada {intervalMinutes}.',
  'finding.node_silent.confirm': 'Mire la pila y la antena del nodo, y si su pasarela funciona.',

  'finding.overflow.stands':
    'El agua lleva {standHours} a {aboveMm} por encima del rebosadero, que está a {invertMm}; uno despejado la suelta en una hora.',
  'finding.overflow.stood':
    'El agua estuvo {standHours} a {aboveMm} por encima del rebosadero, que está a {invertMm}; uno despejado la suelta en una hora.',
  'finding.overflow.falls_as_drawn':
    'En ese tiempo bajó {fellMm}, y las plantas solas se llevan {expectedMm}: no sale nada.',
  'finding.overflow.falls_slowly': 'Bajó {fellMm} en {standHours}: más de lo que toman las plantas, así que algo sale.',
  'finding.overflow.repeated': 'Visto tras {times#llenado|llenados}.',
  'finding.overflow.confirm':
    'Despeje el rebosadero y vierta hasta que corra: debe correr enseguida y parar en su borde.',

  'finding.leak.size':
    'Llena pierde unos {leakLitresPerDay} (de {leastLitresPerDay} a {mostLitresPerDay}) más de lo que explican el tiempo y las plantas.',
  'finding.leak.height': 'El agujero parece estar a {crackMm}: allí debe pararse el agua, con {stopsLitres} dentro.',
  'finding.leak.since': 'Visto en {blocks#tramo|tramos} de agua que baja, desde {onsetMs:day} más o menos.',
  'finding.leak.not_demand':
    'Una fuga explica los datos mejor que unas plantas más sedientas (log-verosimilitud {leakScore} frente a {demandScore}).',
  'finding.leak.same_height':
    'Tras {times#relleno|rellenos} el nivel bajó enseguida a {crackMm} y se quedó: una tierra que bebe no se pararía siempre a la misma altura.',
  'finding.leak.now': 'Con el nivel actual, {levelMm}, se lleva unos {nowLitresPerDay}.',
  'finding.leak.confirm':
    'Llene hasta el rebosadero, marque el nivel al anochecer y mire al amanecer; busque humedad a unos {crackMm} del fondo.',

  'finding.wick_failed.draws':
    'Desde hace {runDays} el depósito pierde {usedLitresPerDay}, y con este tiempo las plantas solían tomar {usualLitresPerDay}.',
  'finding.wick_failed.soil_dries':
    'Mientras tanto la tierra pasó de {fromFraction} a {toFraction} de humedad: las plantas siguen bebiendo.',
  'finding.wick_failed.water_stands': 'Hay agua a {levelMm}, por encima del pie de la mecha.',
  'finding.wick_failed.confirm':
    'Riegue una vez desde arriba hasta mojar toda la tierra; si vuelve a secarse con agua debajo, hay que rehacer la mecha.',

  'finding.wick_limited.dries':
    'En {days#día|días} de los últimos doce la tierra estuvo {deficitFraction} más seca de lo que se asienta.',
  'finding.wick_limited.water_stands':
    'Todo ese tiempo hubo agua a {levelMm}: en días de calor la mecha sube menos de lo que gastan las plantas.',
  'finding.wick_limited.confirm':
    'Mire si la tierra se recupera en un día fresco; ayudan la sombra, el acolchado o una segunda mecha.',

  'finding.demand_collapsed.draws':
    'Las plantas toman {usedLitresPerDay}, y con este tiempo solían tomar {usualLitresPerDay}; el cambio vino {onsetMs:day} más o menos.',
  'finding.demand_collapsed.soil_moist': 'La tierra sigue húmeda, {moistureFraction}: hay agua y nadie la quiere.',
  'finding.demand_collapsed.no_moisture': 'Sin sensor de humedad, una mecha que falla se vería igual.',
  'finding.demand_collapsed.confirm': 'Mire las plantas: ¿podadas, en reposo, enfermas o muertas?',

  'finding.waterlogged.wet': 'La tierra lleva dos días a {moistureFraction}, y se asienta a {referenceFraction}.',
  'finding.waterlogged.above_port': 'El agua está a {levelMm}, por encima del rebosadero: mire si está despejado.',
  'finding.waterlogged.from_above': 'Ninguna lluvia lo explica: puede que alguien riegue desde arriba.',
  'finding.waterlogged.confirm': 'Toque la tierra a un palmo de hondo; baje el agua y mire si escurre.',

  'finding.sensor_stuck.same':
    'El nivel ha dado {levelMm}, igual hasta la última cifra, en {readings#lectura|lecturas}, durante {stuckHours}.',
  'finding.sensor_stuck.expected':
    'Las plantas deberían haberlo bajado {expectedMm}; el temblor propio del sensor es {noiseMm}.',
  'finding.sensor_stuck.confirm': 'Vierta un litro: el nivel debería subir.',

  'finding.sensor_unplugged.none': 'Ningún nivel en {readings#lectura|lecturas} desde {sinceMs}.',
  'finding.sensor_unplugged.end_of_scale':
    'El nivel pasó de {beforeMm} a {rawMm} de un salto y sigue allí desde hace {readings#lectura|lecturas}.',
  'finding.sensor_unplugged.node_alive': 'El nodo mismo sigue enviando.',
  'finding.sensor_unplugged.confirm': 'Revise el enchufe y el cable del sensor de nivel.',

  'finding.sensor_fouled.noise': 'El nivel tiembla {noiseMm}, y lo habitual era {usualMm}.',
  'finding.sensor_fouled.lags': 'Tras el último relleno grande el nivel tardó {lagHours} en seguir.',
  'finding.sensor_fouled.confirm': 'Limpie el sensor y su tubo; luego vierta un litro y mire el nivel.',

  'finding.sensor_drift.offset':
    'Tras llenarla del todo, el nivel queda ahora a {offsetMm} de donde quedaba, en {fills#llenado|llenados} seguidos.',
  'finding.sensor_drift.effect': 'Por eso el volumen yerra unos {litres}.',
  'finding.sensor_drift.confirm':
    'Llene hasta que corra el rebosadero, espere a que pare y ajuste de nuevo la altura del sensor.',

  'finding.clock_wrong.behind':
    'La lectura más nueva de {messages#mensaje|mensajes} llegó cada vez con {offMinutes} de retraso.',
  'finding.clock_wrong.ahead': 'Las lecturas de {messages#mensaje|mensajes} llegaron {offMinutes} antes de su hora.',
  'finding.clock_wrong.confirm': 'Reinicie el nodo, o póngalo en hora.',

  'finding.battery_low.volts': 'La pila está a {batteryV}.',
  'finding.battery_low.fraction': 'La pila está al {batteryFraction}.',
  'finding.battery_low.forecast': 'A este paso se vacía hacia {emptyMs:day}, lo más pronto {earliestMs:day}.',
  'finding.battery_low.knee': 'Perdió más de {dropV} en {days#día|días}: las pilas así se acaban poco después.',
  'finding.battery_low.empty': 'A esta tensión los nodos se paran.',
  'finding.battery_low.confirm': 'Cambie la pila en la próxima visita.',

  'finding.nodes_swapped.fits':
    'Lo que ha enviado este nodo desde {sinceMs:day} encaja mejor con {otherContainer} que con {thisContainer}, y al revés.',
  'finding.nodes_swapped.score':
    'Intercambiados, ambos encajan mucho mejor a lo largo de {days#día|días} (log-verosimilitud {score} más alta).',
  'finding.nodes_swapped.confirm': 'Lea el número del nodo en cada una de las dos macetas.',

  'finding.instead_of.leak': 'También encajaría una fuga (confianza {asideFraction}), que esto explica.',
  'finding.instead_of.wick_failed':
    'También encajaría una mecha que falla (confianza {asideFraction}), que esto explica.',
  'finding.instead_of.wick_limited':
    'También encajaría una mecha que sube poco (confianza {asideFraction}), que esto explica.',
  'finding.instead_of.demand_collapsed':
    'También encajarían unas plantas que dejaron de beber (confianza {asideFraction}), que esto explica.',
  'finding.instead_of.overflow_blocked':
    'También encajaría un rebosadero obstruido (confianza {asideFraction}), que esto explica.',
  'finding.instead_of.overflow_partly_blocked':
    'También encajaría un rebosadero medio obstruido (confianza {asideFraction}), que esto explica.',
  'finding.instead_of.sensor_stuck':
    'También encajaría un sensor atascado (confianza {asideFraction}), que esto explica.',
  'finding.instead_of.sensor_fouled':
    'También encajaría un sensor sucio (confianza {asideFraction}), que esto explica.',
  'finding.instead_of.sensor_drift':
    'También encajaría un sensor a la deriva (confianza {asideFraction}), que esto explica.',
};
