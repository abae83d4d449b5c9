import { describe, expect, it } from 'vitest';
import { UsageError } from '../../../src/commands/command.js';
import { parseOptions } from '../../../src/commands/options.js';

const TABLE = { data: 'value', readings: 'values', json: 'flag' } as const;

describe('reading options', () => {
  it('takes values with a blank or an equals sign, in any order', () => {
    expect(parseOptions(['--json', '--data', 'd', '--readings=a', '--readings', 'b'], TABLE).options).toEqual({
      data: 'd',
      readings: ['a', 'b'],
      json: true,
    });
  });

  it('keeps operands apart', () => {
    expect(parseOptions(['N1', '--data', 'd'], TABLE, ['ID']).operands).toEqual(['N1']);
  });

  it.each([
    [['--dta', 'x'], /no option --dta.*--data/],
    [['--data'], /--data needs a value/],
    [['--data', '--json'], /--data needs a value/],
    [['--data='], /--data needs a value/],
    [['--data', 'a', '--data', 'b'], /given twice/],
    [['--json=yes'], /takes no value/],
    [['extra'], /“extra” is one word too many/],
  ])('refuses %j in words', (args, words) => {
    expect(() => parseOptions(args, TABLE)).toThrow(UsageError);
    expect(() => parseOptions(args, TABLE)).toThrow(words);
  });
});
