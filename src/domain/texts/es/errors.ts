import type { errors as english } from '../en/errors.js';

/** What went wrong, and what to do next. */
export const errors: Record<keyof typeof english, string> = {
  'error.not_found': 'Eso no existe',
  'error.not_found.next':
    'Revise el identificador. Puede que se haya quitado, o que sea de una cuenta que usted no puede ver.',
  'error.not_authenticated': 'No ha iniciado sesión',
  'error.not_authenticated.next': 'Inicie sesión y pruebe otra vez.',
  'error.second_factor_needed': 'Hace falta también un código',
  'error.second_factor_needed.next':
    'Envíe el código que muestra la aplicación de su teléfono, o uno de recuperación, junto con usuario y contraseña.',
  'error.second_factor_missing': 'Configure antes su segundo factor',
  'error.second_factor_missing.next': 'Abra Ajustes y añada la aplicación de su teléfono; después se abre todo.',
  'error.not_allowed': 'Su función no puede hacer esto',
  'error.not_allowed.next': 'Pídalo al propietario, que es quien reparte las funciones.',
  'error.invalid_input': 'Algo de lo enviado no se puede aceptar',
  'error.invalid_input.next': 'Corrija lo que nombra la lista y envíelo otra vez. No se ha cambiado nada.',
  'error.conflict': 'Contradice lo que está anotado',
  'error.conflict.next': 'Cargue el estado actual y decida de nuevo.',
  'error.cursor_moved': 'Otro proceso fue más rápido',
  'error.cursor_moved.next': 'No se ha perdido nada. Pruebe otra vez.',
  'error.too_many_attempts': 'Demasiados intentos',
  'error.too_many_attempts.next': 'Espere lo que dice Retry-After en la respuesta y pruebe otra vez.',
  'error.store_damaged': 'La base de datos está dañada',
  'error.store_damaged.next':
    'Pare el servidor, guarde una copia de la carpeta de datos y ponga en su lugar la última copia de seguridad.',
  'error.store_newer': 'La base de datos la escribió una versión más nueva',
  'error.store_newer.next': 'Use la versión más nueva, o restaure la copia hecha antes de la actualización.',
  'error.store_locked': 'Otro proceso usa la base de datos',
  'error.store_locked.next': 'Pare el otro proceso, o espere a que acabe, y pruebe otra vez.',
  'error.store_read_only': 'No se puede escribir en la carpeta de datos',
  'error.store_read_only.next': 'Dé al usuario del servidor permiso para escribir, o elija otra carpeta con --data.',
  'error.store_full': 'El disco está lleno',
  'error.store_full.next': 'Haga sitio; lo que no se confirmó lo envían otra vez los nodos.',
  'error.key_missing': 'Falta el archivo de claves',
  'error.key_missing.next':
    'Devuelva el archivo a su sitio; hasta entonces los códigos de acceso y los contactos siguen cerrados, y lo demás funciona.',
  'error.port_in_use': 'El puerto está ocupado',
  'error.port_in_use.next': 'Pare el otro programa, o elija otro puerto.',
  'error.open_mode_not_loopback': 'El modo abierto es solo para esta máquina',
  'error.open_mode_not_loopback.next': 'Quite --open, o escuche en 127.0.0.1.',
  'error.file_unreadable': 'No se puede leer un archivo',
  'error.file_unreadable.next': 'Revise la ruta y el permiso para leerlo.',
  'error.fleet_invalid': 'El archivo de la flota tiene faltas',
  'error.fleet_invalid.next': 'Corrija lo que nombra la lista e impórtelo otra vez. No se ha cambiado nada.',
  'error.internal': 'Algo ha fallado de nuestro lado',
  'error.internal.next':
    'Pruebe otra vez. Si sigue, dé el número de la petición a quien lleva el servidor: el registro tiene los detalles.',
};
