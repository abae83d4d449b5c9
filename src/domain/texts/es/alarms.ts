import type { alarms as english } from '../en/alarms.js';

/** Alarms: what they say, why they come, and what to do. Alerts, as people get them. */
export const alarms: Record<keyof typeof english, string> = {
  'alarm.kind.wick_failed': 'La mecha falla',
  'alarm.kind.waterlogged': 'Encharcada',
  'alarm.kind.outage': 'Corte',
  'alarm.kind.crew_full': 'Sin sitio en las rondas',
  'alarm.place.crew': 'Todo el equipo',

  'alert.stop': '{site}: {pots#maceta|macetas} que atender antes de {dueByMs}, {litres} de agua.',
  'alert.stop_without_water': '{site}: {pots#maceta|macetas} que atender antes de {dueByMs}.',
  'alert.task.refill': '{pot}: rellenar {litres} antes de {dueByMs}',
  'alert.task.rewet_from_above': '{pot}: mojar desde arriba antes de {dueByMs}',
  'alert.task.find_leak': '{pot}: buscar la fuga antes de {dueByMs}',
  'alert.task.clear_overflow': '{pot}: despejar el rebosadero antes de {dueByMs}',
  'alert.task.retest_wick': '{pot}: mojar y probar otra vez la mecha antes de {dueByMs}',
  'alert.task.repack_wick': '{pot}: rehacer la mecha antes de {dueByMs}',
  'alert.task.drain': '{pot}: vaciar antes de {dueByMs}',
  'alert.task.check_sensor': '{pot}: comprobar el sensor antes de {dueByMs}',
  'alert.task.replace_battery': '{pot}: cambiar la pila antes de {dueByMs}',
  'alert.task.recover_node': '{pot}: recuperar el nodo antes de {dueByMs}',
  'alert.task.feed': '{pot}: abonar antes de {dueByMs}',
  'alert.task.flush_salts': '{pot}: lavar las sales antes de {dueByMs}',
  'alert.task.replant': '{pot}: replantar antes de {dueByMs}',
  'alert.task.commission': '{pot}: poner en servicio antes de {dueByMs}',
  'alert.task.inspect': '{pot}: mirarla antes de {dueByMs}',
  'alert.crew_full.pot': '{pot} ({site}): ya {dryP10Ms}',
  'alert.escalated': 'Nadie la ha reconocido desde {calledMs}, y el plazo de respuesta ha pasado.',

  'alarm.dry.now': '{pot} está seca: el agua está a {levelMm}, no más alta que el pie de la mecha.',
  'alarm.dry.now_unheard':
    '{pot} está probablemente seca: su último pronóstico decía {dryP50Ms}, y desde entonces no se la ha oído.',
  'alarm.dry.decide': '{pot} puede estar seca ya {dryP10Ms}, y ninguna ronda pasa antes. Decida hoy quién va.',
  'alarm.dry.cause': 'Las plantas han bajado el agua, y no hay nadie apuntado para rellenar a tiempo.',
  'alarm.dry.consequence':
    'Al pie de la mecha ya no sube agua. La tierra aguanta unos días; después sufren las plantas, y la turba reseca no vuelve a tomar agua por sí sola.',
  'alarm.dry.action': 'Ponga la parada en una ronda antes de la fecha más temprana, o envíe a alguien ahora.',
  'alarm.crew_full.found':
    '{pots#maceta puede|macetas pueden} estar secas antes de que pase alguien, la primera ya {dryP10Ms}: ninguna ronda llega a tiempo.',
  'alarm.crew_full.cause':
    'Toca más de lo que el equipo alcanza: calor, un festivo por delante, alguien enfermo, rondas demasiado llenas.',
  'alarm.crew_full.consequence':
    'Cada una tiene una probabilidad de una entre diez o más de estar seca antes de su visita. La tierra aguanta después unos días.',
  'alarm.crew_full.action':
    'Ponga primero en las rondas las que antes se secan, alargue el día de hoy o envíe a alguien más, o acepte el riesgo y reconozca la alarma.',
  'alarm.leak.found':
    '{pot} pierde unos {sizeLitresPerDay} más de lo que beben sus plantas, desde una altura de {heightMm}.',
  'alarm.leak.cause': 'Una grieta, una junta que rezuma, o una manguera en el tubo de llenado que hace sifón.',
  'alarm.leak.consequence':
    'Se paga agua que se pierde, la terraza o la cubierta se moja, y la maceta se seca antes de lo que beben sus plantas.',
  'alarm.leak.action':
    'Mire la pared a la altura indicada, por dentro y por fuera; séllela o cambie el depósito, llene hasta el rebosadero y rearme la alarma.',
  'alarm.overflow_blocked.found': '{pot} tiene agua por encima del rebosadero: no la deja salir.',
  'alarm.overflow_blocked.cause':
    'Raíces, tierra, una hoja o un nido de avispas en la salida, o una pared justo delante.',
  'alarm.overflow_blocked.consequence':
    'La próxima lluvia o el próximo relleno se queda en la tierra y ahoga las raíces.',
  'alarm.overflow_blocked.action':
    'Despeje el rebosadero y su malla, deje salir lo que sobra, vea correr el agua y rearme la alarma.',
  'alarm.wick_failed.found': '{pot} tiene agua, pero la mecha no la sube a la tierra.',
  'alarm.wick_failed.cause': 'Sustrato reseco que repele el agua, o un hueco en la columna.',
  'alarm.wick_failed.consequence': 'Las plantas se secan encima de un depósito lleno.',
  'alarm.wick_failed.action':
    'Riegue desde arriba hasta mojar toda la columna y mire si el nivel baja; si no baja, rehaga la mecha. Rearme la alarma cuando beba.',
  'alarm.waterlogged.found': '{pot} tiene la tierra más mojada de lo que se asienta, desde hace demasiado.',
  'alarm.waterlogged.cause': 'Demasiada agua, lluvia larga, o un rebosadero que no corre.',
  'alarm.waterlogged.consequence': 'Sin aire las raíces se pudren en días.',
  'alarm.waterlogged.action': 'Mire primero el rebosadero; luego vacíe con sifón o bomba y deje que el nivel baje.',
  'alarm.node_silent.found': 'De {pot} no se oye nada desde {sinceMs}.',
  'alarm.node_silent.cause': 'Una pila vacía, un nodo sin cobertura, o uno dañado o retirado.',
  'alarm.node_silent.consequence': 'Nadie sabe cómo está la maceta; su último pronóstico sigue, cada vez más ancho.',
  'alarm.node_silent.action':
    'Pase antes de la fecha más temprana del último pronóstico: mida el nivel a mano y recupere el nodo.',
  'alarm.outage.found': '{pots#maceta|macetas} de {site} callaron a la vez; oídas por última vez {sinceMs}.',
  'alarm.outage.cause': 'La pasarela que comparten está sin corriente o sin red, o el sitio está incomunicado.',
  'alarm.outage.consequence':
    'De todas las macetas que van por ella no se sabe nada hasta que vuelva; lo que guardaron llega entonces.',
  'alarm.outage.action': 'Llame al sitio: pregunte si hay corriente y red. Si las hay, alguien va a la pasarela.',
  'alarm.suppressed.visit': 'Alguien está trabajando en la maceta.',
  'alarm.suppressed.outage': 'Parte de un corte que tiene su propia alarma.',
  'alarm.suppressed.new_planting': 'Recién plantada: sus raíces aún no llegan a la mecha.',
  'alarm.suppressed.crew_full':
    'Una de muchas macetas para las que la cuadrilla no tiene sitio, que son una sola alarma.',
  'alarm.suppressed.planned': 'Hay una visita a tiempo en una ronda.',
  'alarm.suppressed.awaiting_proof': 'El trabajo está hecho; falta que lo muestren las lecturas.',

  'performance.cure.chattering': 'Va y viene: dele más demora al irse o una banda muerta más ancha.',
  'performance.cure.fleeting': 'Se va antes de que nadie pueda actuar: dele más demora al saltar.',
  'performance.cure.stale': 'Lleva más de un día: haga lo que pide, aplácela con un motivo, o baje lo que vale.',
  'performance.cure.frequent': 'Viene más que otras: busque una sola causa detrás de tantas veces.',

  'alert.digest':
    'Esta mañana: {stops#parada|paradas} con {needVisit#maceta|macetas} que no pueden esperar, {litres} de agua; {unknown#maceta|macetas} sin datos; {alarms#alarma|alarmas} sin ver.',
  'alert.digest_quiet': 'Esta mañana no toca nada antes de que acabe el próximo día laborable.',
  'alert.digest_away': 'El servidor estuvo parado de {fromMs} a {toMs}; lo que llegó mientras tanto está contado.',
};
