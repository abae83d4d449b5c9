import { type DestinationStream, type Logger, pino } from 'pino';

/** Wherever one of these stands in what is logged, its value is not. */
const SECRETS = ['password', 'secret', 'token', 'cookie', 'authorization', 'passwordHash', 'secretHash', 'tokenHash'];

/**
 * The root of all logs: one JSON object a line. Adapters get a child each.
 * @param destination stderr where it is left out, so that results on stdout stay clean
 */
export function makeRootLog(level: string, destination?: DestinationStream): Logger {
  const options = {
    level,
    base: null,
    timestamp: () => `,"time":"${new Date().toISOString()}"`,
    formatters: { level: (label: string) => ({ level: label }) },
    redact: {
      paths: SECRETS.flatMap((name) => [name, `*.${name}`, `*.*.${name}`]),
      censor: '[kept out]',
    },
  };
  return pino(options, destination ?? lasting(2));
}

/** The same into a file, for a command that keeps its terminal for people. */
export function makeFileLog(level: string, file: string): Logger {
  return makeRootLog(level, lasting(file));
}

/** A disk that is full takes no line of the log either. That must not end a server which waits for room on the same disk. */
function lasting(dest: string | number): DestinationStream {
  return pino.destination({ dest, mkdir: true, sync: true }).on('error', () => {});
}
