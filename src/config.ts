import { isIP } from 'node:net';
import { z } from 'zod';
import type { ClockScale } from './app/clock.js';
import { UsageError } from './commands/command.js';
import { DomainError } from './domain/errors.js';
import { isLoopback } from './http/loopback.js';
import type { HttpSettings } from './http/settings.js';

export interface MqttSettings {
  readonly host: string;
  readonly port: number;
  readonly wsPort: number;
  /** An external broker instead of the embedded one. */
  readonly brokerUrl: string | null;
  /** Nodes may publish without credentials; this machine only. */
  readonly open: boolean;
}

export interface FirstOwnerSettings {
  readonly name: string;
  readonly login: string;
  readonly password: string;
}

export interface Settings {
  readonly dataDir: string;
  readonly logLevel: 'fatal' | 'error' | 'warn' | 'info' | 'debug' | 'trace';
  readonly http: HttpSettings;
  readonly mqtt: MqttSettings;
  /** How the business clock runs; null: it is the machine's clock. */
  readonly clock: ClockScale | null;
  readonly firstOwner: FirstOwnerSettings | null;
}

/** Options of the commands that run a server; each has a variable of the environment beside it. */
export const SERVER_OPTIONS = {
  data: 'value',
  host: 'value',
  http: 'value',
  mqtt: 'value',
  ws: 'value',
  broker: 'value',
  open: 'flag',
  'public-url': 'value',
  'log-level': 'value',
} as const;

const port = z.coerce
  .number({ error: 'is not a number' })
  .int('is not a whole number')
  .min(0, 'is below 0; 0 takes any free port')
  .max(65_535, 'is above 65535');

const positive = (what: string, max: number) =>
  z.coerce.number({ error: 'is not a number' }).positive('is not above 0').max(max, `is above ${max} ${what}`);

const host = z
  .string()
  .refine((value) => value === 'localhost' || isIP(value) !== 0, 'is neither an IP address nor localhost');

const httpUrl = z
  .string()
  .refine(
    (value) => URL.canParse(value) && /^https?:$/.test(new URL(value).protocol),
    'is not an http or https address',
  )
  .transform((value) => new URL(value).origin);

const brokerUrl = z
  .string()
  .refine(
    (value) => URL.canParse(value) && /^(mqtts?|tcp|ssl|wss?):$/.test(new URL(value).protocol),
    'is not an MQTT address such as mqtt://localhost:1883',
  );

/** Where each setting comes from: the option wins over the variable, the variable over the default. */
const SOURCES = {
  dataDir: { option: 'data', variable: 'BRIMLINE_DATA' },
  host: { option: 'host', variable: 'BRIMLINE_HOST' },
  httpPort: { option: 'http', variable: 'BRIMLINE_HTTP_PORT' },
  mqttPort: { option: 'mqtt', variable: 'BRIMLINE_MQTT_PORT' },
  wsPort: { option: 'ws', variable: 'BRIMLINE_WS_PORT' },
  brokerUrl: { option: 'broker', variable: 'BRIMLINE_BROKER' },
  open: { option: 'open', variable: 'BRIMLINE_OPEN' },
  publicUrl: { option: 'public-url', variable: 'BRIMLINE_PUBLIC_URL' },
  logLevel: { option: 'log-level', variable: 'BRIMLINE_LOG_LEVEL' },
  sessionHours: { option: null, variable: 'BRIMLINE_SESSION_HOURS' },
  requestsPerMinute: { option: null, variable: 'BRIMLINE_REQUESTS_PER_MINUTE' },
  logInsPerMinute: { option: null, variable: 'BRIMLINE_LOG_INS_PER_MINUTE' },
  bodyLimitBytes: { option: null, variable: 'BRIMLINE_BODY_LIMIT_BYTES' },
  trustedHops: { option: null, variable: 'BRIMLINE_TRUSTED_HOPS' },
  metricsToken: { option: null, variable: 'BRIMLINE_METRICS_TOKEN' },
  changeStreams: { option: null, variable: 'BRIMLINE_CHANGE_STREAMS' },
  ownerName: { option: null, variable: 'BRIMLINE_OWNER_NAME' },
  ownerLogin: { option: null, variable: 'BRIMLINE_OWNER_LOGIN' },
  ownerPassword: { option: null, variable: 'BRIMLINE_OWNER_PASSWORD' },
} as const;

const rawSchema = z.object({
  dataDir: z.string().min(1).default('./brimline-data'),
  host: host.default('127.0.0.1'),
  httpPort: port.default(8080),
  mqttPort: port.default(1883),
  wsPort: port.default(9001),
  brokerUrl: brokerUrl.optional(),
  open: z
    .union([z.boolean(), z.enum(['0', '1', 'false', 'true']).transform((text) => text === '1' || text === 'true')], {
      error: 'is neither 1 nor 0',
    })
    .default(false),
  publicUrl: httpUrl.optional(),
  logLevel: z
    .enum(['fatal', 'error', 'warn', 'info', 'debug', 'trace'], {
      error: 'is none of fatal, error, warn, info, debug, trace',
    })
    .default('info'),
  sessionHours: positive('hours', 8_760).default(168),
  requestsPerMinute: positive('requests', 1e6).default(1_200),
  logInsPerMinute: positive('log-ins', 1e6).default(20),
  bodyLimitBytes: positive('bytes', 1e9).default(1_048_576),
  trustedHops: z.coerce.number({ error: 'is not a number' }).int('is not a whole number').min(0).max(10).default(0),
  metricsToken: z.string().min(16, 'is shorter than 16 characters').optional(),
  changeStreams: positive('streams', 1e5).default(500),
  ownerName: z.string().min(1).optional(),
  ownerLogin: z.string().min(1).optional(),
  ownerPassword: z.string().min(1).optional(),
});

export type ServerOptionValues = { readonly [Name in keyof typeof SERVER_OPTIONS]?: string | boolean };

/**
 * Reads every setting once, from the options and the environment.
 * @throws UsageError that lists all faults, each with the option and the variable that would mend it
 */
export function readSettings(
  options: ServerOptionValues,
  environment: NodeJS.ProcessEnv,
  clock: ClockScale | null = null,
): Settings {
  const raw: Record<string, unknown> = {};
  for (const [name, source] of Object.entries(SOURCES)) {
    const fromOption = source.option === null ? undefined : options[source.option];
    const fromEnvironment = environment[source.variable];
    raw[name] = fromOption ?? (fromEnvironment === '' ? undefined : fromEnvironment);
  }
  const parsed = rawSchema.safeParse(raw);
  if (!parsed.success) throw new UsageError(describeFaults(parsed.error.issues, raw));
  const value = parsed.data;
  if (value.open && !isLoopback(value.host)) {
    throw new DomainError(
      'open_mode_not_loopback',
      `--open lets anybody publish, so it is taken on this machine only, but the server would listen on ${value.host}. Leave --open out and make credentials with “brimline node add”, or listen on 127.0.0.1.`,
    );
  }
  return freeze({
    dataDir: value.dataDir,
    logLevel: value.logLevel,
    http: {
      host: value.host,
      port: value.httpPort,
      publicUrl: value.publicUrl ?? null,
      sessionHours: value.sessionHours,
      requestsPerMinute: value.requestsPerMinute,
      logInsPerMinute: value.logInsPerMinute,
      bodyLimitBytes: value.bodyLimitBytes,
      trustedHops: value.trustedHops,
      metricsToken: value.metricsToken ?? null,
      changeStreams: value.changeStreams,
    },
    mqtt: {
      host: value.host,
      port: value.mqttPort,
      wsPort: value.wsPort,
      brokerUrl: value.brokerUrl ?? null,
      open: value.open,
    },
    clock,
    firstOwner: firstOwner(value),
  });
}

function firstOwner(value: z.infer<typeof rawSchema>): FirstOwnerSettings | null {
  const { ownerName, ownerLogin, ownerPassword } = value;
  if (ownerLogin === undefined && ownerPassword === undefined && ownerName === undefined) return null;
  if (ownerLogin === undefined || ownerPassword === undefined) {
    throw new UsageError(
      'For the first owner, BRIMLINE_OWNER_LOGIN and BRIMLINE_OWNER_PASSWORD are needed both; BRIMLINE_OWNER_NAME may stand beside them.',
    );
  }
  return { name: ownerName ?? ownerLogin, login: ownerLogin, password: ownerPassword };
}

function describeFaults(issues: readonly z.core.$ZodIssue[], raw: Readonly<Record<string, unknown>>): string {
  const lines = issues.map((issue) => {
    const name = String(issue.path[0]) as keyof typeof SOURCES;
    const { option, variable } = SOURCES[name];
    const where = option === null ? variable : `--${option} (or ${variable})`;
    return `${where}: ${JSON.stringify(raw[name])} ${issue.message}.`;
  });
  return `The settings have ${lines.length === 1 ? 'a fault' : `${lines.length} faults`}.\n${lines.map((line) => `  ${line}`).join('\n')}`;
}

function freeze<T extends object>(value: T): T {
  for (const part of Object.values(value)) {
    if (typeof part === 'object' && part !== null) freeze(part);
  }
  return Object.freeze(value);
}
