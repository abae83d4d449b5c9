import { parseArgs } from 'node:util';

/** Wrong usage of a command: exit status 2. */
export class UsageError extends Error {
  override readonly name = 'UsageError';
}

type Options = Readonly<Record<string, { readonly type: 'string' | 'boolean'; readonly default?: string }>>;

export class Arguments {
  readonly #values: Readonly<Record<string, string | boolean | undefined>>;
  readonly #help: string;

  /** Prints the help and answers null where it is asked for. @throws UsageError for options that are not known */
  static parse(args: readonly string[], options: Options, help: string): Arguments | null {
    if (args.includes('--help')) {
      console.log(help);
      return null;
    }
    try {
      const { values } = parseArgs({
        args: [...args],
        options: options as never,
        strict: true,
        allowPositionals: false,
      });
      return new Arguments(values as Record<string, string | boolean | undefined>, help);
    } catch (error) {
      throw new UsageError(`${error instanceof Error ? error.message : String(error)}\n\n${help}`);
    }
  }

  private constructor(values: Readonly<Record<string, string | boolean | undefined>>, help: string) {
    this.#values = values;
    this.#help = help;
  }

  flag(name: string): boolean {
    return this.#values[name] === true;
  }

  optional(name: string): string | null {
    const value = this.#values[name];
    return typeof value === 'string' ? value : null;
  }

  required(name: string): string {
    const value = this.optional(name);
    if (value === null || value === '') throw new UsageError(`--${name} is missing.\n\n${this.#help}`);
    return value;
  }

  number(name: string, low: number, high: number): number {
    const text = this.required(name);
    const value = Number(text);
    if (!Number.isFinite(value) || value < low || value > high) {
      throw new UsageError(`--${name} is "${text}"; it takes a number from ${low} to ${high}.`);
    }
    return value;
  }

  choice<T extends string>(name: string, choices: readonly T[]): T {
    const text = this.required(name);
    const found = choices.find((choice) => choice === text);
    if (found === undefined) throw new UsageError(`--${name} is "${text}"; it takes one of ${choices.join(', ')}.`);
    return found;
  }
}
