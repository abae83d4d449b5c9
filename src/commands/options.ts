import { parseArgs } from 'node:util';
import { nearestName } from '../domain/nearest-name.js';
import { UsageError } from './command.js';

/** `value`: takes one; `values`: may be given several times; `flag`: takes none. */
export type OptionKind = 'value' | 'values' | 'flag';

export type OptionTable = Readonly<Record<string, OptionKind>>;

type OptionValue<Kind extends OptionKind> = Kind extends 'flag' ? boolean : Kind extends 'values' ? string[] : string;

export interface ParsedOptions<Table extends OptionTable> {
  readonly options: { readonly [Name in keyof Table]?: OptionValue<Table[Name]> };
  readonly operands: readonly string[];
}

/**
 * Reads a command's options: `--data DIR` or `--data=DIR`, in any order, operands between them.
 * @param operandNames what the operands are called in the words of refusal; more than these are refused
 * @throws UsageError for an unknown option (with the nearest known one), a missing value or too many operands
 */
export function parseOptions<const Table extends OptionTable>(
  args: readonly string[],
  table: Table,
  operandNames: readonly string[] = [],
): ParsedOptions<Table> {
  const { tokens } = parseArgs({
    args: [...args],
    options: Object.fromEntries(
      Object.entries(table).map(([name, kind]) => [name, { type: kind === 'flag' ? 'boolean' : 'string' } as const]),
    ),
    strict: false,
    allowPositionals: true,
    tokens: true,
  });
  const options: Record<string, string | boolean | string[]> = {};
  const operands: string[] = [];
  for (const token of tokens) {
    if (token.kind === 'positional') operands.push(token.value);
    if (token.kind !== 'option') continue;
    const kind = table[token.name];
    if (kind === undefined) {
      const nearest = nearestName(token.name, Object.keys(table));
      throw new UsageError(
        `There is no option ${token.rawName}.${nearest === null ? '' : ` Did you mean --${nearest}?`} --help lists the options.`,
      );
    }
    // Without strict mode the parser takes `--data --http 80` as a folder called `--http`.
    const value = token.inlineValue === false && token.value.startsWith('--') ? undefined : token.value;
    options[token.name] = optionValue(token.name, kind, value, options[token.name]);
  }
  if (operands.length > operandNames.length) {
    const extra = operands[operandNames.length] ?? '';
    const expected = operandNames.length === 0 ? 'nothing but options' : operandNames.join(' ');
    throw new UsageError(`“${extra}” is one word too many: this command takes ${expected}. --help shows an example.`);
  }
  return { options: options as ParsedOptions<Table>['options'], operands };
}

function optionValue(
  name: string,
  kind: OptionKind,
  value: string | undefined,
  before: string | boolean | string[] | undefined,
): string | boolean | string[] {
  if (kind === 'flag') {
    if (value !== undefined) throw new UsageError(`--${name} takes no value; leave “${value}” out.`);
    return true;
  }
  if (value === undefined || value === '') throw new UsageError(`--${name} needs a value after it.`);
  if (kind === 'values') return [...(Array.isArray(before) ? before : []), value];
  if (before !== undefined) throw new UsageError(`--${name} is given twice; give it once.`);
  return value;
}

/** Where the keys of what is kept sealed lie; null: in the data folder. */
export function keyFileOf(environment: NodeJS.ProcessEnv): string | null {
  const file = environment.BRIMLINE_KEY_FILE;
  return file === undefined || file === '' ? null : file;
}
