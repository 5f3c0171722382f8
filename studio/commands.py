"""How a command of this project speaks: bad input gets one clear line and exit status 2."""

import os
import sys
from typing import Any, NoReturn

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DatabaseError, DataError, IntegrityError, InterfaceError

from studio.services.backup_file import BackupError

BAD_INPUT = 2


class OneLineParser(CommandParser):
    """A parser that says what is wrong in one line, with exit status 2."""

    def error(self, message: str) -> NoReturn:
        """Leave out the usage that argparse prints before an error."""
        line = " ".join(message.split())
        command = self.prog.split()[-1]
        text = f"{line[0].upper()}{line[1:]}. See: manage.py {command} --help"
        if not self.called_from_command_line:
            raise CommandError(text, returncode=BAD_INPUT)
        self.exit(BAD_INPUT, f"{text}\n")


class OneLineCommand(BaseCommand):
    """A command that needs no database and no pages, and reports bad input in one line."""

    requires_system_checks = ()
    _called_from_command_line = False

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        """Build the parser: no abbreviated options, errors on one line."""
        parser = super().create_parser(prog_name, subcommand, allow_abbrev=False, **kwargs)
        # Django names its parser class inside create_parser; ours adds no state of its own.
        parser.__class__ = OneLineParser
        return parser

    def execute(self, *args: Any, **options: Any) -> str | None:
        """Run, and turn bad input into its one line when started from a shell."""
        try:
            return super().execute(*args, **options)
        except CommandError as error:
            if not self._called_from_command_line:
                raise
            self.stderr.write(str(error))
            sys.exit(error.returncode)
        except (DatabaseError, InterfaceError) as error:
            # A row that does not fit is a mistake in the program, and its words may quote a name.
            if not self._called_from_command_line or isinstance(error, IntegrityError | DataError):
                raise
            self.stderr.write(f"The database does not answer: {' '.join(str(error).split())}")
            sys.exit(1)
        except BrokenPipeError:
            # Whoever read our lines has seen enough, as `head` does; Python would complain once
            # more when it flushes at the end.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            sys.exit(1)


class KeepingCommand(OneLineCommand):
    """A command about backups: it says on standard error how far it is, and errors in one line."""

    def say(self, words: str) -> None:
        """Say what is being done; a restore of a large studio takes a while."""
        if self.speaks:
            self.stderr.write(f"{words} …", ending="\n")

    def handle(self, **options: Any) -> None:
        """Do the work, and turn what went wrong into words."""
        self.speaks = options["verbosity"] > 0
        try:
            self.work(**options)
        except BackupError as error:
            raise CommandError(str(error), returncode=BAD_INPUT) from error
        except OSError as error:
            words = f"{error.filename or 'The disk'}: {error.strerror}. Nothing has been changed."
            raise CommandError(words, returncode=BAD_INPUT) from error
        except DatabaseError as error:
            words = f"The database does not answer: {' '.join(str(error).split())}"
            raise CommandError(words, returncode=BAD_INPUT) from error

    def work(self, **options: Any) -> None:
        """What the command does."""
        raise NotImplementedError
