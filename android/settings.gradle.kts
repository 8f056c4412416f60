// For Android Studio. Written from the documentation and not run by this project's checks, which compile and test the same
// sources with Maven (android/app.sh).
pluginManagement {
    repositories {
        google()
        mavenCentral()
        gradlePluginPortal()
    }
}

dependencyResolutionManagement {
    repositoriesMode.set(RepositoriesMode.FAIL_ON_PROJECT_REPOS)
    repositories {
        google()
        mavenCentral()
    }
}

rootProject.name = "Steerwright"
include(":app")
