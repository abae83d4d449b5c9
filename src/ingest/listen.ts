import type { Server } from 'node:net';
import { DomainError } from '../domain/errors.js';

export function isLoopback(host: string): boolean {
  return host === 'localhost' || host === '::1' || /^127\.\d+\.\d+\.\d+$/.test(host);
}

/**
 * Listens and says on which port.
 * @param what what speaks there, for the words of refusal
 * @param option how another port is chosen
 * @throws DomainError `port_in_use` where the port cannot be had
 */
export function listen(
  server: Server,
  { host, port, what, option }: { host: string; port: number; what: string; option: string },
): Promise<number> {
  return new Promise((resolve, reject) => {
    const fail = (error: NodeJS.ErrnoException): void => reject(refusal(error, host, port, what, option));
    server.once('error', fail);
    server.listen({ host, port }, () => {
      server.off('error', fail);
      const address = server.address();
      if (address === null || typeof address === 'string') {
        reject(new Error(`${what} listens on ${String(address)}, which is no port`));
        return;
      }
      resolve(address.port);
    });
  });
}

function refusal(error: NodeJS.ErrnoException, host: string, port: number, what: string, option: string): Error {
  const words: Readonly<Record<string, string>> = {
    EADDRINUSE: 'another program listens there already. Stop it',
    EACCES: 'this user may not open it. Choose one above 1023',
    EADDRNOTAVAIL: `${host} is no address of this machine. Choose another address`,
  };
  const why = words[error.code ?? ''];
  if (why === undefined) return error;
  return new DomainError(
    'port_in_use',
    `Port ${port} on ${host} cannot be used for ${what}: ${why}, or give ${option} PORT.`,
    {
      cause: error,
    },
  );
}
