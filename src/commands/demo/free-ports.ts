import { createServer } from 'node:net';

const LOOPBACK = '127.0.0.1';

/** The usual port where it is free, otherwise 0: any free one. A port that was asked for by number stays. */
export async function portFor(asked: string | undefined, usual: number): Promise<string> {
  if (asked !== undefined) return asked;
  return (await isFree(usual)) ? String(usual) : '0';
}

function isFree(port: number): Promise<boolean> {
  return new Promise((resolve) => {
    const server = createServer();
    server.once('error', () => resolve(false));
    server.listen(port, LOOPBACK, () => server.close(() => resolve(true)));
  });
}
