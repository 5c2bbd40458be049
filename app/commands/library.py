"""``tautograph library``: the joints that a plant shares, taken into a joints file and checked."""

from __future__ import annotations

from app.commands.library_arguments import LibraryArguments
from app.commands.run import CommandError

UNCHANGED, CHANGED = 0, 1


def library_command(arguments: LibraryArguments) -> int:
    """Carry out ``tautograph library``; returns the exit code."""
    from analysis.joint.joints_file import joints_from_text, joints_text
    from analysis.joint.library import read_library
    from analysis.joint.library_entries import taken_entries, with_taken
    from analysis.whole_file import write_whole

    if arguments.joints is None and (arguments.take or arguments.put):
        raise CommandError("--take and --put need --joints J.toml: the file that takes, or has the joints")
    if arguments.put:
        _put(arguments)
    library = read_library(arguments.library)
    checked = joints_from_text(joints_text(arguments.library), path=str(arguments.library))
    print(f"{library.title or arguments.library.name}, revision {library.revision}")
    if arguments.joints is None:
        for name in library.tables:
            print(f"  {name}: {checked[name].title}, digest {library.digest(name)}")
        return UNCHANGED
    text = joints_text(arguments.joints) if arguments.joints.exists() else ""
    if arguments.take:
        new = with_taken(text, arguments.joints, library, arguments.take)
        write_whole(arguments.joints, new.encode("utf-8"))
        print(f"taken into {arguments.joints}: {', '.join(arguments.take)}")
    changed = False
    for name, entry in taken_entries(text if not arguments.take else new, arguments.joints, library).items():
        now = library.digest(entry["joint"]) if entry["joint"] in library.tables else "none: it is gone"
        same = now == entry["digest"]
        changed |= not same
        state = "unchanged" if same else f"changed, now {now}"
        print(f"  {name}: from revision {entry['revision']}, digest {entry['digest']}: {state}")
    return CHANGED if changed else UNCHANGED


def _put(arguments: LibraryArguments) -> None:
    """Joints of the joints file into the library, from which the file takes them then."""
    from analysis.joint.joints_document import JointsDocument
    from analysis.joint.shared_joints import LibraryConflictError, next_revision, put_shared

    document = JointsDocument.load(arguments.joints or "")
    unknown = [name for name in arguments.put if name not in document.names]
    if unknown:
        raise CommandError(f"{', '.join(unknown)}: no such joint in {arguments.joints}")
    revision = arguments.revision or next_revision(arguments.library)
    for name in arguments.put:
        try:
            library = put_shared(document, name, arguments.library, revision, instead=arguments.instead)
        except LibraryConflictError as error:
            raise CommandError(f"{error}; --instead puts yours in its place") from None
        document.save()
        revision = library.revision
        print(f"put into {arguments.library}: {name}, revision {revision}")
