import type { alarms as english } from '../en/alarms.js';

/** What a technician is told on the way. */
export const alarms: Partial<Record<keyof typeof english, string>> = {
  'alarm.kind.wick_failed': 'La mecha falla',
  'alarm.kind.waterlogged': 'Encharcada',
  'alarm.kind.outage': 'Corte',

  'alert.stop': '{site}: {pots#maceta|macetas} que atender antes de {dueByMs}, {litres} de agua.',
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
  'alert.escalated': 'Nadie la ha reconocido desde {calledMs}, y el plazo de respuesta ha pasado.',
};
