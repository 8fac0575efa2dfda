# Sourced by the scripts: sets $python to the first Python >= 3.11 that can make an environment, or says what is missing.
old=""
bare=""
python=""
for candidate in python3 python3.14 python3.13 python3.12 python3.11 python; do
    version=$("$candidate" -c 'import sys; print("%d.%d" % sys.version_info[:2])' 2>/dev/null) || continue
    if ! "$candidate" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        old=${old:-$version}
    elif ! "$candidate" -c 'import venv, ensurepip' 2>/dev/null; then
        bare=${bare:-$version}
    else
        python=$candidate
        break
    fi
done
if [ -z "$python" ]; then
    if [ -n "$bare" ]; then
        echo "Python $bare is here without its venv module; install it (on Debian and Ubuntu: apt-get install python3-venv) and run this again." >&2
    elif [ -n "$old" ]; then
        echo "Bickern needs Python 3.11 or newer and this machine has $old; install a newer one and run this again." >&2
    else
        echo "Bickern needs Python 3.11 or newer and this machine has none; install it (on Debian and Ubuntu: apt-get install python3 python3-venv) and run this again." >&2
    fi
    exit 1
fi
