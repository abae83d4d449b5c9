import { readFileSync } from 'node:fs';

/** What the live simulator needs to speak to a running server. */
export interface LiveCredentials {
  /** Null: nobody reports visits or enters forecasts. */
  readonly httpUrl: string | null;
  readonly passwordOf: ReadonlyMap<string, string>;
  /** Login and password of people, by login. */
  readonly people: ReadonlyMap<string, string>;
}

export const CREDENTIALS_FORM =
  '{ "httpUrl": "http://127.0.0.1:8080", "principals": [{ "id": "N001", "password": "…" }], "people": [{ "login": "ines", "password": "…" }] }';

/** Reads a credentials file. @throws Error that shows the form where the file has another */
export function readCredentials(path: string): LiveCredentials {
  const wrong = (what: string): Error => new Error(`${path}: ${what}. The file looks like ${CREDENTIALS_FORM}`);
  let parsed: unknown;
  try {
    parsed = JSON.parse(readFileSync(path, 'utf8'));
  } catch (error) {
    throw wrong(error instanceof Error ? error.message : String(error));
  }
  if (typeof parsed !== 'object' || parsed === null) throw wrong('holds no object');
  const { httpUrl, principals, people } = parsed as Record<string, unknown>;
  const pairs = (list: unknown, key: string, name: string): Map<string, string> => {
    if (list === undefined) return new Map();
    if (!Array.isArray(list)) throw wrong(`"${name}" is no list`);
    return new Map(
      list.map((entry: unknown) => {
        const row = (entry ?? {}) as Record<string, unknown>;
        const id = row[key];
        const { password } = row;
        if (typeof id !== 'string' || typeof password !== 'string') {
          throw wrong(`an entry of "${name}" lacks "${key}" or "password"`);
        }
        return [id, password] as const;
      }),
    );
  };
  return {
    httpUrl: typeof httpUrl === 'string' ? httpUrl.replace(/\/$/, '') : null,
    passwordOf: pairs(principals, 'id', 'principals'),
    people: pairs(people, 'login', 'people'),
  };
}
