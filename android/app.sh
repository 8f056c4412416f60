#!/usr/bin/env bash
# Compiles the Android app and runs its tests on this machine's JVM, with the platform's own classes (Robolectric) and the
# real core. Needs Maven, JDK 17 and aapt2 (Debian: aapt and android-sdk-build-tools); some 0.7 GB are downloaded once.
# Pictures of every screen are written to android/app/target/pictures.
#
#   android/app.sh                     everything
#   android/app.sh -Dtest=JourneyTest  one class of tests
#
# STEERWRIGHT_LIBRARY=FILE uses that library instead of building one.
set -euo pipefail
cd "$(dirname "$0")/.."
bindings/generate.sh kotlin
app=$PWD/android/app
library=$(realpath "${STEERWRIGHT_LIBRARY:-target/debug/libsteerwright_ffi.so}")
mvn() { command mvn -B -ntp -q -f "$app" "-Dlibrary=$library" -Dkotlin.compiler.daemon=false \
    -Dkotlin.compiler.incremental=false "$@"; }

mvn initialize
mkdir -p "$app/target/res" "$app/target/assets" "$app/target/r" "$app/target/test-config/com/android/tools"
# What Gradle adds to the manifest.
sed 's|^<manifest .*|<manifest xmlns:android="http://schemas.android.com/apk/res/android" package="steerwright.app" android:versionCode="1" android:versionName="0.1.0">\n    <uses-sdk android:minSdkVersion="26" android:targetSdkVersion="35"/>|' \
    "$app/AndroidManifest.xml" > "$app/target/AndroidManifest.xml"
aapt2 compile --dir "$app/res" -o "$app/target/res/compiled.zip"
# aapt2 warns about a kind of chunk in the framework that it does not know.
aapt2 link -I "$app/target/framework/framework.jar" --manifest "$app/target/AndroidManifest.xml" --java "$app/target/r" \
    --min-sdk-version 26 --target-sdk-version 35 -A "$app/target/assets" --auto-add-overlay \
    -o "$app/target/res/res.apk" "$app/target/res/compiled.zip" 2> "$app/target/res/link.log" ||
    { cat "$app/target/res/link.log" >&2; exit 1; }
cat > "$app/target/test-config/com/android/tools/test_config.properties" << END
android_merged_manifest=$app/target/AndroidManifest.xml
android_merged_assets=$app/target/assets
android_resource_apk=$app/target/res/res.apk
android_custom_package=steerwright.app
END

reports=$app/target/surefire-reports
# A class that is older than what it calls would be kept.
rm -rf "$reports" "$app/target/classes" "$app/target/test-classes" "$app/target/kotlin-ic"
status=0
mvn test "$@" || status=$?
sum() {
    { cat "$reports"/TEST-*.xml 2> /dev/null | grep -o '<testsuite [^>]*' | grep -o " $1=\"[0-9]*\"" || true; } |
        tr -dc '0-9\n' | awk '{ n += $1 } END { print n + 0 }'
}
failed=$(($(sum failures) + $(sum errors)))
passed=$(($(sum tests) - failed - $(sum skipped)))
echo "$passed passed, $failed failed, $(sum skipped) skipped"
[ "$passed" -gt 0 ] || status=1
exit "$status"
