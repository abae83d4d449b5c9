import type { shell as english } from '../en/screens-shell.js';

export const shell: Record<keyof typeof english, string> = {
  'app.name': 'Brimline',
  'app.skip': 'Ir al contenido',
  'app.menu': 'Pantallas',
  'app.of_pots': 'Cada maceta, cuánta agua tiene y quién va hoy.',

  'nav.today': 'Hoy',
  'nav.round': 'Ronda',
  'nav.containers': 'Macetas',
  'nav.alarms': 'Alarmas',
  'nav.commission': 'Puesta en servicio',
  'nav.water': 'Agua',
  'nav.settings': 'Ajustes',

  'live.live': 'en vivo',
  'live.connecting': 'conectando',
  'live.broken': 'sin conexión',
  'live.as_of': '{atMs:day} {at2Ms:time}',

  'alerts.count': '{alerts#aviso|avisos}',
  'alerts.seen': 'Visto',
  'alerts.seen_for': 'Visto: {alert}',
  'alerts.all_seen': 'Todo visto',

  'load.loading': 'Cargando …',
  'load.failed_title': 'No se ha podido cargar',
  'load.no_connection': 'El servidor no responde. Se ve lo último que se supo; se carga de nuevo por sí solo.',
  'load.no_connection_empty':
    'El servidor no responde y en este aparato no hay nada guardado. Se carga por sí solo en cuanto haya señal.',
  'load.refused': 'El servidor lo rechaza: {detail}',
  'load.refused_in_english': 'El servidor lo rechaza: {reason}. En inglés: {detail}',
  'load.again': 'Probar otra vez',

  'unknown.title': 'Esa pantalla no existe',
  'unknown.text': 'La dirección «{path}» no lleva a ninguna parte.',
  'unknown.go': 'Ir a la primera pantalla',

  'forbidden.title': 'No es para esta función',
  'forbidden.text': 'Un {role} no ve esta pantalla. El propietario puede darle otra función.',

  'signin.title': 'Entrar',
  'signin.login': 'Nombre de usuario',
  'signin.password': 'Contraseña',
  'signin.submit': 'Entrar',
  'signin.wrong':
    'El nombre y la contraseña no van juntos. Compruebe ambos; el propietario puede poner una contraseña nueva.',
  'signin.no_connection': 'El servidor no responde. Compruebe la señal y pruebe otra vez.',
  'signin.first':
    '¿Aún no hay nadie con usuario? La consola en la que se arrancó el servidor muestra la dirección para el primer propietario.',
  'signin.failed': 'No se ha podido entrar: {detail}',

  'settings.title': 'Ajustes',
  'settings.intro':
    'Cómo le habla esta página. Las unidades y el idioma van con su usuario; el aspecto, con este aparato.',
  'settings.volume': 'Agua',
  'settings.volume.L': 'litros',
  'settings.volume.US_gal': 'galones de EE. UU.',
  'settings.length': 'Longitudes',
  'settings.length.mm': 'milímetros',
  'settings.length.in': 'pulgadas',
  'settings.temperature': 'Temperatura',
  'settings.temperature.Cel': 'grados Celsius',
  'settings.temperature.degF': 'grados Fahrenheit',
  'settings.look': 'Aspecto',
  'settings.look.auto': 'como el aparato',
  'settings.look.light': 'papel',
  'settings.look.dark': 'noche',
  'settings.look.sun': 'al sol',
  'settings.language': 'Idioma',
  'settings.language.en': 'English',
  'settings.language.es': 'Español',
  'settings.kept': 'Guardado.',
  'settings.not_kept': 'No se ha guardado: {detail}',
  'settings.signed_in_as': 'Usted es {name}, {role}.',
  'settings.sign_out': 'Salir',
  'settings.unsent':
    'En este aparato hay {visits#visita|visitas} que el servidor aún no tiene. No salga hasta que se hayan enviado.',
};
