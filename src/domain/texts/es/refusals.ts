import type { refusals as english } from '../en/refusals.js';

/** Why a record was put into quarantine, and what to do. */
export const refusals: Record<keyof typeof english, string> = {
  'refusal.not_senml':
    'No es un paquete SenML que se pueda leer. Corrija lo que escribe el emisor; los bytes se guardan como llegaron.',
  'refusal.unknown_node':
    'El nodo no está en el registro. Añádalo o asígnelo a una maceta y vuelva a procesar el dato.',
  'refusal.unknown_site': 'El sitio no está en el registro. Añádalo y vuelva a procesar el dato.',
  'refusal.no_quantity': 'El nombre no acaba en una magnitud que se mida aquí. Cámbielo en el emisor.',
  'refusal.unknown_unit': 'Falta la unidad, o no vale para esta magnitud. Cambie la unidad en el emisor.',
  'refusal.ratio_out_of_range':
    'Una proporción va de 0 a 1. En SenML la unidad «%» es la misma proporción que «/»; un porcentaje se envía con la unidad «/100».',
  'refusal.impossible_value': 'El valor no puede ser cierto. Revise sensor, cables, unidad y reloj.',
  'refusal.before_first_assignment':
    'La hora es anterior a la primera asignación del nodo. Si ya estaba allí, adelante el comienzo de la asignación y vuelva a procesar el dato.',
  'refusal.too_far_ahead': 'La hora está más de 10 minutos en el futuro. Ponga en hora el reloj del emisor.',
  'refusal.payload_too_large': 'El mensaje es mayor de lo que se acepta. Envíe lo atrasado en varios paquetes.',
  'refusal.bad_row':
    'No se puede leer la línea del archivo. Corríjala e importe el archivo otra vez; las líneas ya aceptadas no cambian nada.',
};
