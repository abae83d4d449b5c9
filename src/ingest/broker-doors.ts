import { createServer as createHttpServer, type Server as HttpServer, type RequestListener } from 'node:http';
import { createServer as createHttpsServer } from 'node:https';
import { createServer, type Server, type Socket } from 'node:net';
import type { Duplex } from 'node:stream';
import { createServer as createTlsServer, TLSSocket, type Server as TlsServer } from 'node:tls';
import { createWebSocketStream, WebSocketServer } from 'ws';
import type { Log } from '../domain/ports/log.js';
import { listen } from './listen.js';

/** What a server over TLS shows, and whom it believes. */
export interface Certificates {
  readonly key: string;
  readonly cert: string;
  /** Whoever signed the certificates of nodes: a node that shows one needs no password. Null: none is asked for. */
  readonly clientCa: string | null;
}

export interface DoorOptions {
  /** Address to listen on. */
  readonly host: string;
  readonly maxConnections: number;
  readonly log: Log;
  /** A connection is there; what it says comes by the stream, who it is by the socket beneath. */
  readonly onStream: (stream: Duplex, socket: Socket) => void;
}

/** A whole message over WebSocket is one frame, which is gathered in memory before we see it. */
const MAX_WEBSOCKET_FRAME_BYTES = 16 * 1024 * 1024;
/** A handshake that takes longer holds a place that a node could have. */
const HANDSHAKE_TIMEOUT_MS = 10_000;

/** The ports of the broker: TCP and WebSocket, each plain or over TLS. */
export class BrokerDoors {
  readonly #options: DoorOptions;
  readonly #servers: (Server | HttpServer)[] = [];
  readonly #tlsServers: Pick<TlsServer, 'setSecureContext'>[] = [];
  readonly #webSockets: WebSocketServer[] = [];
  /** All connections, logged in or not; a server is closed only when the last of them has ended. */
  readonly #sockets = new Set<Socket>();
  #turnedAway = 0;

  constructor(options: DoorOptions) {
    this.#options = options;
  }

  /** Connections refused because there were too many. */
  get turnedAway(): number {
    return this.#turnedAway;
  }

  /** @returns the port in use, as of the others; `port` 0 takes any that is free */
  tcp(port: number): Promise<number> {
    const server = createServer({ noDelay: true }, (socket) => this.#options.onStream(socket, socket));
    this.#add(server);
    return listen(server, { host: this.#options.host, port, what: 'MQTT', option: '--mqtt' });
  }

  webSocket(port: number): Promise<number> {
    const server = createHttpServer(sayUpgrade);
    this.#add(server);
    this.#acceptWebSockets(server);
    return listen(server, { host: this.#options.host, port, what: 'MQTT over WebSocket', option: '--ws' });
  }

  tls(port: number, certificates: Certificates): Promise<number> {
    const server = createTlsServer(tlsOptions(certificates), (socket) => this.#options.onStream(socket, socket));
    this.#addTls(server);
    const what = 'MQTT over TLS';
    return listen(server, { host: this.#options.host, port, what, option: 'BRIMLINE_MQTTS_PORT' });
  }

  webSocketTls(port: number, certificates: Certificates): Promise<number> {
    const server = createHttpsServer(tlsOptions(certificates), sayUpgrade);
    this.#addTls(server);
    this.#acceptWebSockets(server);
    const what = 'MQTT over WebSocket and TLS';
    return listen(server, { host: this.#options.host, port, what, option: 'BRIMLINE_WSS_PORT' });
  }

  /** New connections over TLS are shown this certificate from now on. */
  renewTls({ key, cert, clientCa }: Certificates): void {
    for (const server of this.#tlsServers) {
      server.setSecureContext({ key, cert, ...(clientCa === null ? {} : { ca: clientCa }) });
    }
  }

  /** Lets nobody in any more. @returns a promise of the end of the last connection */
  shut(): { readonly ended: Promise<unknown> } {
    const ended = this.#servers.map((server) => new Promise<void>((resolve) => server.close(() => resolve())));
    return { ended: Promise.all(ended) };
  }

  /** Ends every connection. */
  clear(): void {
    for (const webSockets of this.#webSockets) webSockets.close();
    for (const socket of this.#sockets) socket.destroy();
  }

  #add(server: Server | HttpServer): void {
    const { maxConnections, log } = this.#options;
    server.maxConnections = maxConnections;
    server.on('connection', (socket: Socket) => {
      this.#sockets.add(socket);
      socket.once('close', () => this.#sockets.delete(socket));
    });
    server.on('drop', () => {
      this.#turnedAway += 1;
      log.warn({ limit: maxConnections }, 'MQTT connection refused: too many connections');
    });
    this.#servers.push(server);
  }

  #addTls(server: TlsServer): void {
    server.on('tlsClientError', (error: Error) => {
      this.#options.log.info({ reason: error.message }, 'MQTT connection over TLS dropped before its log-in');
    });
    this.#add(server);
    this.#tlsServers.push(server);
  }

  #acceptWebSockets(server: HttpServer): void {
    const webSockets = new WebSocketServer({
      server,
      maxPayload: MAX_WEBSOCKET_FRAME_BYTES,
      perMessageDeflate: false,
      handleProtocols: (protocols) => (protocols.has('mqtt') ? 'mqtt' : protocols.has('mqttv3.1') ? 'mqttv3.1' : false),
    });
    webSockets.on('connection', (socket, request) => {
      const stream = createWebSocketStream(socket);
      // The stream ends by an error event when the other side vanishes; whoever takes it listens from here on.
      this.#options.onStream(stream, request.socket);
    });
    // The http server reports its own errors to listen(); ws passes them on to here as well.
    webSockets.on('error', (error) => this.#options.log.debug({ reason: error.message }, 'WebSocket server'));
    this.#webSockets.push(webSockets);
  }
}

function tlsOptions({ key, cert, clientCa }: Certificates) {
  return {
    key,
    cert,
    minVersion: 'TLSv1.2',
    handshakeTimeout: HANDSHAKE_TIMEOUT_MS,
    // A node without a certificate logs in with its password; one that nobody knows is not believed.
    ...(clientCa === null ? {} : { ca: clientCa, requestCert: true, rejectUnauthorized: false }),
  } as const;
}

/** Whom the certificate names that a node has shown, where somebody we trust has signed it. */
export function nameInCertificate(socket: Socket): string | null {
  if (!(socket instanceof TLSSocket) || !socket.authorized) return null;
  const { CN } = socket.getPeerCertificate().subject ?? {};
  return typeof CN === 'string' && CN !== '' ? CN : null;
}

const sayUpgrade: RequestListener = (_request, response) => {
  response.writeHead(426, { 'content-type': 'text/plain; charset=utf-8', upgrade: 'websocket' });
  response.end('This port speaks MQTT over WebSocket (sub-protocol "mqtt").\n');
};
