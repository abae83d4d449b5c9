import type { work as english } from '../en/work.js';

/** Reasons, expectations and what to bring: what a technician reads beside the work. */
export const work: Partial<Record<keyof typeof english, string>> = {
  'task.inspect': 'Mirar la maceta',

  'task.reason.refill':
    'Consume {rateLitresPerDay}; quedan {leftLitres}. Seca {dryP50Ms}, entre {dryP10Ms} y {dryP90Ms}.',
  'task.reason.refill_learning': 'Solo hay {dataDays} de datos: el margen es ancho.',
  'task.reason.refill_dry': 'Seca: el agua está a {levelMm}, la mecha acaba a {wickFootMm}.',
  'task.reason.refill_unheard':
    'No hay lectura fiable desde {lastReadingMs}. Sigue el último pronóstico: seca {dryP50Ms}, entre {dryP10Ms} y {dryP90Ms}.',
  'task.reason.leak': 'Pierde unos {sizeLitresPerDay} más de lo que beben las plantas, desde una altura de {heightMm}.',
  'task.reason.overflow_blocked': 'El agua está por encima del rebosadero y no sale.',
  'task.reason.overflow_partly_blocked': 'El rebosadero suelta el agua demasiado despacio.',
  'task.reason.wick_failed': 'Hay agua y la mecha no la sube.',
  'task.reason.waterlogged': 'La tierra está más mojada de lo que se asienta.',
  'task.reason.demand_collapsed': 'Las plantas casi han dejado de beber: mire si viven.',
  'task.reason.sensor_stuck': 'El sensor da siempre el mismo valor.',
  'task.reason.sensor_drift': 'El cero del sensor se ha desplazado.',
  'task.reason.sensor_unplugged': 'El sensor parece desconectado.',
  'task.reason.sensor_fouled': 'El sensor sigue mal el nivel: puede estar sucio.',
  'task.reason.node_silent': 'El nodo no se oye; señalado {openedMs}.',
  'task.reason.nodes_swapped': 'El nodo {nodeId} parece estar en otra maceta.',
  'task.reason.clock_wrong': 'El reloj del nodo va mal.',
  'task.reason.battery_low': 'La pila está casi vacía.',
  'task.reason.outage':
    'Todo lo que va por la pasarela calló a la vez ({pots#maceta|macetas}); oído por última vez {sinceMs}.',
  'task.reason.asked': '{person} lo pidió: {note}',

  'verify.confirmed': 'El nivel subió {measuredLitres}; apuntado {reportedLitres}.',
  'verify.confirmed_full': 'Llena hasta el rebosadero: quedaron {measuredLitres}, apuntados {reportedLitres}.',
  'verify.confirmed_unreported': 'El nivel subió {measuredLitres}.',
  'verify.contradicted': 'Apuntado {reportedLitres}, el nivel subió {measuredLitres}.',
  'verify.no_rise': 'Apuntado {reportedLitres}, y el nivel no subió.',
  'verify.no_data': 'No hubo lecturas en las horas siguientes: nadie lo sabe.',

  'task.expect.refill': 'El nivel sube lo vertido, como mucho hasta el rebosadero.',
  'task.expect.rewet_from_above': 'La humedad de la tierra sube en un día y la maceta vuelve a beber.',
  'task.expect.find_leak': 'Tras llenar hasta el rebosadero, el nivel baja solo lo que beben las plantas.',
  'task.expect.clear_overflow': 'El nivel baja hasta el rebosadero y no vuelve a quedar por encima.',
  'task.expect.retest_wick': 'El nivel baja de día en día y la tierra conserva su humedad.',
  'task.expect.drain': 'Baja el nivel y, en unos días, la humedad de la tierra.',
  'task.expect.check_sensor': 'Las lecturas coinciden con una varilla con pocos milímetros de diferencia.',
  'task.expect.replace_battery': 'La próxima lectura muestra la tensión de la pila nueva.',
  'task.expect.recover_node': 'Vuelven a llegar lecturas antes de un intervalo.',
  'task.expect.commission': 'Coinciden los litros vertidos y los medidos.',

  'task.bring.rose': 'Regadera o manguera con alcachofa',
  'task.bring.sealant': 'Sellador para superficies mojadas',
  'task.bring.siphon': 'Sifón o bomba',
  'task.bring.port_brush': 'Cepillo para el rebosadero',
  'task.bring.screen': 'Malla de repuesto',
  'task.bring.substrate': 'Sustrato',
  'task.bring.dipstick': 'Varilla de medir',
  'task.bring.sensor': 'Sensor de nivel de repuesto',
  'task.bring.battery': 'Pila nueva',
  'task.bring.node': 'Nodo de repuesto',
  'task.bring.fertiliser': 'Abono de liberación controlada',
  'task.bring.plants': 'Plantas',
};
