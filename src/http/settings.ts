/** A tile service, by whoever runs the server. */
export interface MapTiles {
  /** Address of a tile with `{z}`, `{x}` and `{y}` in it. */
  readonly template: string;
  /** What the service wants to stand on its maps. */
  readonly attribution: string;
}

/** What the HTTP adapter wants to know; `config.ts` reads it. */
export interface HttpSettings {
  readonly host: string;
  readonly port: number;
  /** The port speaks TLS itself, without a proxy in front. */
  readonly tls: boolean;
  /** How browsers reach the server, where that differs from host and port; https makes the cookies Secure. */
  readonly publicUrl: string | null;
  readonly sessionHours: number;
  /** Whether owners and dispatchers have to have a second factor. */
  readonly secondFactor: 'offered' | 'required';
  /** Per caller's address. */
  readonly requestsPerMinute: number;
  readonly logInsPerMinute: number;
  readonly bodyLimitBytes: number;
  /** Reverse proxies in front of us whose X-Forwarded-For is believed. */
  readonly trustedHops: number;
  /** Opens /metrics to callers beyond this machine; null: this machine only. */
  readonly metricsToken: string | null;
  /** Where the page fetches map tiles; null: sites are drawn on a plain plot, and nobody else is asked. */
  readonly mapTiles: MapTiles | null;
  /** Open change streams at a time. */
  readonly changeStreams: number;
  /** A change stream whose reader takes nothing for so long is let go. */
  readonly changePatienceMs: number;
}
