/** Every refusal that the program makes on purpose. The HTTP status and the words for each live at the edge. */
export type ErrorCode =
  | 'not_found'
  | 'not_authenticated'
  /** The password was right; the code of the second factor is asked for. */
  | 'second_factor_needed'
  /** A second factor has to be set up before anything else may be done. */
  | 'second_factor_missing'
  | 'not_allowed'
  | 'invalid_input'
  | 'conflict'
  | 'cursor_moved'
  | 'too_many_attempts'
  | 'store_damaged'
  | 'store_newer'
  | 'store_locked'
  | 'store_read_only'
  | 'store_full'
  | 'key_missing'
  | 'port_in_use'
  | 'open_mode_not_loopback'
  | 'file_unreadable'
  | 'fleet_invalid';

/** One fault in what somebody gave us: where it is and what was expected. */
export interface InputFault {
  /** JSON pointer, column name or line, for instance `/containers/3/reservoir/strapping`. */
  readonly pointer: string;
  readonly detail: string;
}

export class DomainError extends Error {
  override readonly name = 'DomainError';
  readonly code: ErrorCode;
  readonly faults: readonly InputFault[];

  /**
   * @param detail what is wrong, where, and what to do next; a person reads it
   */
  constructor(code: ErrorCode, detail: string, options: { faults?: readonly InputFault[]; cause?: unknown } = {}) {
    super(detail, options.cause === undefined ? {} : { cause: options.cause });
    this.code = code;
    this.faults = options.faults ?? [];
  }
}
