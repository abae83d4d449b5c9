import { once } from 'node:events';
import { type AddressInfo, connect, createServer, type Socket } from 'node:net';

/** A line between the phone and the server that a test can cut, as a cellar or a tunnel does. */
export interface Line {
  readonly url: string;
  /** Ends what is under way and takes no more; to the phone there is nobody there. */
  cut(): Promise<void>;
  mend(): Promise<void>;
  close(): Promise<void>;
}

export async function startLine(serverUrl: string): Promise<Line> {
  const target = new URL(serverUrl);
  const sockets = new Set<Socket>();
  const keep = (socket: Socket): void => {
    sockets.add(socket);
    socket.on('close', () => sockets.delete(socket));
    // A cut line makes both ends complain; that is what it is for.
    socket.on('error', () => socket.destroy());
  };
  const entry = createServer((phone) => {
    const server = connect(Number(target.port), target.hostname);
    keep(phone);
    keep(server);
    phone.pipe(server).pipe(phone);
    phone.on('close', () => server.destroy());
    server.on('close', () => phone.destroy());
  });
  entry.listen(0, '127.0.0.1');
  await once(entry, 'listening');
  const { port } = entry.address() as AddressInfo;
  const cut = async (): Promise<void> => {
    if (!entry.listening) return;
    entry.close();
    for (const socket of sockets) socket.destroy();
    await once(entry, 'close');
  };
  return {
    url: `http://127.0.0.1:${port}`,
    cut,
    mend: async () => {
      entry.listen(port, '127.0.0.1');
      await once(entry, 'listening');
    },
    close: cut,
  };
}
