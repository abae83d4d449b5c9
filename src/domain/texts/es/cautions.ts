import type { cautions as english } from '../en/cautions.js';

/** No professional translator reviewed these; the local rules say what counts. */
export const cautions: Record<keyof typeof english, string> = {
  'caution.backflow':
    'Ponga una válvula antirretorno en toda manguera conectada a agua potable y deje un espacio de aire al llenar el depósito de la furgoneta. Mandan las normas locales.',
  'caution.non_potable':
    'El agua de la furgoneta y de los depósitos no es potable: tenga la cisterna rotulada y no la pulverice.',
  'caution.lifting':
    'Una maceta mojada pesa lo que maceta, tierra y agua juntas. A partir de unos 23 kg nadie levanta solo; vacíe antes las pesadas y muévalas con medios mecánicos.',
  'caution.heat_lightning':
    'En días de calor beba y descanse a la sombra. Si truena, entre en un edificio o un vehículo con techo de metal y espere 30 minutos desde el último trueno.',
  'caution.labels': 'Use abonos y productos de limpieza según su etiqueta.',
  'caution.licence': 'No entre ni toque instalaciones eléctricas sin estar autorizado.',
  'caution.lithium': 'Las pilas de litio no van a la basura: tape los bornes y llévelas a reciclar.',
  'caution.mosquito':
    'El agua quieta cría mosquitos: mire que las mallas del tubo de llenado y del rebosadero estén enteras.',
  'caution.roof_load': 'Piense en la carga que aguanta la cubierta o tarima antes de añadir agua o macetas.',
  'caution.axle_load': 'Una cisterna a medio llenar se mueve: cuide la carga por eje y conduzca en consecuencia.',
  'caution.watering_days': 'Compruebe las restricciones de riego de hoy antes de llenar.',
};
